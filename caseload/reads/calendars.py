"""Open days of sites, from their rows; where asked for, with the days on which sessions are held."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from django.db.models import DateField, JSONField, Max, Min, Value
from django.db.models.functions import Cast

from caseload.models import Closure, Holiday, Session, Site
from caseload.timetable.calendar import Closed, OpenDays, SessionDays
from caseload.timetable.terms import FollowUpKind

Held = dict[date, frozenset[FollowUpKind]]
EVERY_KIND: frozenset[FollowUpKind] = frozenset()


def calendars_of(sites: Iterable[Site], *, sessions_from: date | None = None) -> dict[int, OpenDays]:
    """The open days of each site by its id, in two queries (sites bring their region).

    With `sessions_from` also its session days from then on, in one query more.
    """
    sites = list(sites)
    ids = {site.pk for site in sites}
    holidays = _holidays({site.region_id for site in sites})
    closures = _closures(ids)
    sessions = _sessions(ids, sessions_from) if sessions_from else {}
    return {site.pk: _open_days(site, holidays[site.region_id], closures, sessions.get(site.pk)) for site in sites}


def calendar_of(site: Site) -> OpenDays:
    return calendars_of([site])[site.pk]


def every_calendar() -> dict[int, OpenDays]:
    return calendars_of(Site.objects.select_related("region"))


def _holidays(regions: set[int]) -> dict[int, dict[date, str]]:
    found: dict[int, dict[date, str]] = defaultdict(dict)
    for region, on, name in Holiday.objects.filter(region__in=regions).values_list("region", "on", "name"):
        found[region][on] = name
    return found


def _closures(sites: set[int]) -> list[Closure]:
    return [row for row in Closure.objects.all() if row.site_id is None or row.site_id in sites]


def _sessions(sites: set[int], first: date) -> dict[int, SessionDays]:
    """The session days of each site that has any. They are known from its first dated session to its last, whether or
    not those take place."""
    dated = Session.objects.filter(site__in=sites).order_by()
    held = dated.filter(live=True, on__gte=first).distinct()
    known = dated.values("site").annotate(since=Min("on"), until=Max("on"))
    rows = known.values_list("site", "since", "until", Value([], output_field=JSONField())).union(
        held.values_list("site", "on", Cast(Value(None), DateField()), "takes"), all=True
    )
    stretches: dict[int, tuple[date, date]] = {}
    days: dict[int, Held] = defaultdict(dict)
    for site, on, until, takes in rows:
        if until:
            stretches[site] = (on, until)
        else:
            _add(days[site], on, takes)
    return {site: SessionDays(*stretch, days[site]) for site, stretch in stretches.items()}


def _add(held: Held, on: date, takes: Iterable[str]) -> None:
    """A session that takes every kind says so by naming none."""
    kinds, others = frozenset(map(FollowUpKind, takes)), held.get(on)
    held[on] = kinds if others is None else kinds | others if kinds and others else EVERY_KIND


def _open_days(
    site: Site, holidays: dict[date, str], closures: list[Closure], sessions: SessionDays | None
) -> OpenDays:
    return OpenDays(
        weekdays=frozenset(int(digit) for digit in site.weekdays),
        holidays=holidays,
        closures=tuple(
            Closed(row.starts_on, row.ends_on, row.reason) for row in closures if row.site_id in (None, site.pk)
        ),
        covered_from=site.region.covered_from,
        covered_until=site.region.covered_until,
        sessions=sessions,
    )
