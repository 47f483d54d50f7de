"""After a change of sessions: derive again what those days may touch."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Max, Min, Q

from caseload.actions.seats import lock_episodes
from caseload.actions.settle import BATCH, settle_keys
from caseload.models import FollowUp, Session


def resettle(sites: Iterable[int], first: date, last: date) -> int:
    """Settle the episodes of some sites with a due visit whose window touches the days; give back how many.

    Called once the sessions are as they are to be. Locked first: an act that derives one of them just now has not seen
    the change, and must be done before it is derived with it.
    """
    sites = set(sites)
    first, last = _as_far_as_known(sites, first, last)
    touched = FollowUp.objects.due().filter(
        episode__site__in=sites, episode__ended_on__isnull=True, minutes__gt=0,
        earliest_on__lte=last, latest_on__gte=first,
    )  # fmt: skip
    ids = sorted(set(touched.values_list("episode_id", flat=True)))
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
