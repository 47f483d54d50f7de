"""Open days of sites, from their rows."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from caseload.models import Closure, Holiday, Site
from caseload.timetable.calendar import Closed, OpenDays


def calendars_of(sites: Iterable[Site]) -> dict[int, OpenDays]:
    """The open days of each site by its id, in two queries (sites bring their region)."""
    sites = list(sites)
    holidays = _holidays({site.region_id for site in sites})
    closures = _closures({site.pk for site in sites})
    return {site.pk: _open_days(site, holidays[site.region_id], closures) for site in sites}


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


def _open_days(site: Site, holidays: dict[date, str], closures: list[Closure]) -> OpenDays:
    return OpenDays(
        weekdays=frozenset(int(digit) for digit in site.weekdays),
        holidays=holidays,
        closures=tuple(
            Closed(row.starts_on, row.ends_on, row.reason) for row in closures if row.site_id in (None, site.pk)
        ),
        covered_from=site.region.covered_from,
        covered_until=site.region.covered_until,
    )
