"""After a change of sessions or of open days: derive again what those days may touch."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Max, Min, Q, QuerySet

from caseload.actions.seats import lock_episodes
from caseload.actions.settle import BATCH, settle_keys
from caseload.models import Episode, FollowUp, Purpose, Session
from caseload.models.follow_ups import FollowUpQuerySet


def resettle(sites: Iterable[int], first: date, last: date) -> int:
    """Settle the episodes of some sites with a due visit whose window touches the days; give back how many.

    Called once the sessions are as they are to be. Locked first: an act that derives one of them just now has not seen
    the change, and must be done before it is derived with it.
    """
    return _settle(_touched(set(sites), first, last).due().filter(minutes__gt=0).values_list("episode_id", flat=True))


def resettle_open_days(sites: Iterable[int], first: date, last: date) -> int:
    """The same after a change of the days on which sites are open: what is done keeps the days that were proposed for
    it as well, and whoever is to be told of an appointment is to be told within so many open days."""
    sites = set(sites)
    to_tell = Q(appointment__untold_since_on__isnull=False) | Q(appointment__interpreter_told=False)
    told_of = Purpose.objects.filter(to_tell, follow_up__episode__in=_open(sites))
    touched = _touched(sites, first, last).values_list("episode_id", flat=True)
    return _settle([*touched, *told_of.values_list("follow_up__episode_id", flat=True)])


def _open(sites: set[int]) -> QuerySet[Episode]:
    return Episode.objects.open().filter(site__in=sites).order_by()


def _touched(sites: set[int], first: date, last: date) -> FollowUpQuerySet:
    first, last = _as_far_as_known(sites, first, last)
    return FollowUp.objects.filter(
        episode__site__in=sites, episode__ended_on__isnull=True, earliest_on__lte=last, latest_on__gte=first
    )


def _settle(episodes: Iterable[int]) -> int:
    ids = sorted(set(episodes))
    for start in range(0, len(ids), BATCH):
        batch = ids[start : start + BATCH]
        lock_episodes(batch)
        settle_keys(batch)
    return len(ids)


def _as_far_as_known(sites: set[int], first: date, last: date) -> tuple[date, date]:
    """Out to the sessions before and after: a first or last one moves the stretch over which sessions are known, and
    with it every day up to its neighbour."""
    by_site = Session.objects.filter(site__in=sites).order_by().values("site")
    beside = by_site.annotate(before=Max("on", filter=Q(on__lt=first)), after=Min("on", filter=Q(on__gt=last)))
    found = list(beside.values_list("before", "after"))
    return min([first, *(day for day, _ in found if day)]), max([last, *(day for _, day in found if day)])
