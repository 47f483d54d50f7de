"""Open days of sites, from their rows; where asked for, with the days on which sessions are held."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import Any, Final, NamedTuple

from django.db import connection
from django.db.models import DateField, JSONField, Max, Min, QuerySet, Value
from django.db.models.functions import Cast

from caseload.models import Session, Site
from caseload.reads.prepared import Prepared
from caseload.timetable.calendar import Closed, OpenDays, SessionDays
from caseload.timetable.terms import FollowUpKind

Held = dict[date, frozenset[FollowUpKind]]
EVERY_KIND: frozenset[FollowUpKind] = frozenset()
CLOSED: Final = """
    SELECT 1, region_id, "on", "on", name FROM caseload_holiday WHERE region_id IN ({})
    UNION ALL
    SELECT 0, site_id, starts_on, ends_on, reason FROM caseload_closure WHERE site_id IN ({}) OR site_id IS NULL
"""


class Shut(NamedTuple):
    """A closure of one site, or of every one."""

    site: int | None
    days: Closed


def calendars_of(sites: Iterable[Site], *, sessions_from: date | None = None) -> dict[int, OpenDays]:
    """The open days of each site by its id, in one query (sites bring their region).

    With `sessions_from` also its session days from then on, in one query more.
    """
    sites = list(sites)
    ids = {site.pk for site in sites}
    holidays, closures = _closed({site.region_id for site in sites}, ids)
    sessions = _sessions(ids, sessions_from) if sessions_from else {}
    return {site.pk: _open_days(site, holidays[site.region_id], closures, sessions.get(site.pk)) for site in sites}


def calendar_of(site: Site) -> OpenDays:
    return calendars_of([site])[site.pk]


def every_calendar() -> dict[int, OpenDays]:
    return calendars_of(Site.objects.select_related("region"))


def _closed(regions: set[int], sites: set[int]) -> tuple[dict[int, dict[date, str]], list[Shut]]:
    """The holidays of some regions and the closures of some sites.

    Every act derives from them, and Django takes longer to put the two queries into words than the database to answer.
    """
    holidays: dict[int, dict[date, str]] = defaultdict(dict)
    closures = []
    marks = [", ".join(["%s"] * len(keys)) or "NULL" for keys in (regions, sites)]
    with connection.cursor() as cursor:
        cursor.execute(CLOSED.format(*marks), [*regions, *sites])
        for is_holiday, of, first, last, name in cursor.fetchall():
            if is_holiday:
                holidays[of][_day(first)] = name
            else:
                closures.append(Shut(of, Closed(_day(first), _day(last), name)))
    return holidays, sorted(closures, key=lambda row: row.days)


def _day(value: date | str) -> date:
    """SQLite keeps a day as text."""
    return value if isinstance(value, date) else date.fromisoformat(value)


def _sessions(sites: set[int], first: date) -> dict[int, SessionDays]:
    """The session days of each site that has any. They are known from its first dated session to its last, whether or
    not those take place."""
    stretches: dict[int, tuple[date, date]] = {}
    days: dict[int, Held] = defaultdict(dict)
    for site, on, until, takes in _SESSIONS([*sites], first):
        if until:
            stretches[site] = (on, until)
        else:
            _add(days[site], on, takes)
    return {site: SessionDays(*stretch, days[site]) for site, stretch in stretches.items()}


def _dated(sites: Iterable[int], first: date) -> QuerySet[Session, Any]:
    dated = Session.objects.filter(site__in=sites).order_by()
    held = dated.filter(live=True, on__gte=first).distinct()
    known = dated.values("site").annotate(since=Min("on"), until=Max("on"))
    return known.values_list("site", "since", "until", Value([], output_field=JSONField())).union(
        held.values_list("site", "on", Cast(Value(None), DateField()), "takes"), all=True
    )


_SESSIONS: Final = Prepared(_dated)


def _add(held: Held, on: date, takes: Iterable[str]) -> None:
    """A session that takes every kind says so by naming none."""
    kinds, others = frozenset(map(FollowUpKind, takes)), held.get(on)
    held[on] = kinds if others is None else kinds | others if kinds and others else EVERY_KIND


def _open_days(site: Site, holidays: dict[date, str], closures: list[Shut], sessions: SessionDays | None) -> OpenDays:
    return OpenDays(
        weekdays=frozenset(int(digit) for digit in site.weekdays),
        holidays=holidays,
        closures=tuple(row.days for row in closures if row.site in (None, site.pk)),
        covered_from=site.region.covered_from,
        covered_until=site.region.covered_until,
        sessions=sessions,
    )
