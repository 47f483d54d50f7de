"""Regions and their public holidays, from the `holidays` library behind one function.

The official list names the substitute day only, the library the weekend day as well: that one is dropped here, so that
a clinic which opens on Saturdays is open on Sat 26 Dec 2026 and closed on Mon 28 Dec (official JSON of bank holidays).
The library invents no end: a region says itself until which day its holidays have been announced.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from caseload.errors import Refusal
from caseload.timetable.calendar import Closed, OpenDays

MONDAY_TO_FRIDAY: Final = frozenset(range(5))
OBSERVED: Final = " (observed)"
SUBSTITUTE: Final = " (substitute day)"
SATURDAY: Final = 5


@dataclass(frozen=True, slots=True)
class Region:
    """A region by code, such as GB-ENG, and the stretch over which its public holidays are known."""

    code: str
    title: str
    country: str
    subdivision: str
    covered_from: date
    covered_until: date


def regions_from_json(body: Mapping[str, Mapping[str, str]]) -> dict[str, Region]:
    """The regions of `fixtures/regions.json`, by code."""
    return {code: _region(code, row) for code, row in body.items()}


def region_named(regions: Mapping[str, Region], code: str) -> Region:
    """The region of a code. Raises Refusal `unknown-region`, which lists the known ones."""
    if code not in regions:
        known = ", ".join(f"{region.code} ({region.title})" for region in regions.values())
        raise Refusal("unknown-region", f"There is no region “{code}”; the known ones are {known}.", field="region")
    return regions[code]


def holidays_of(region: Region) -> dict[date, str]:
    """The public holidays of a region over the stretch it covers, as the official list has them: day -> name."""
    named = {day: name for day, name in _listed(region).items() if region.covered_from <= day <= region.covered_until}
    moved = {(name.removesuffix(OBSERVED), day) for day, names in named.items() for name in _split(names, OBSERVED)}
    return {
        day: names.replace(OBSERVED, SUBSTITUTE) for day, names in named.items() if not _is_replaced(day, names, moved)
    }


def open_days(region: Region, closures: Iterable[Closed] = (), weekdays: frozenset[int] = MONDAY_TO_FRIDAY) -> OpenDays:
    """The calendar of a site in a region, straight from the library (the record loads holidays as rows instead)."""
    return OpenDays(weekdays, holidays_of(region), region.covered_from, region.covered_until, tuple(closures))


def _region(code: str, row: Mapping[str, str]) -> Region:
    first, last = date.fromisoformat(row["covered_from"]), date.fromisoformat(row["covered_until"])
    return Region(code, row["title"], row["country"], row["subdivision"], first, last)


def _listed(region: Region) -> dict[date, str]:
    from holidays import country_holidays  # loading it costs a tenth of a second: only when asked

    years = range(region.covered_from.year, region.covered_until.year + 1)
    return dict(country_holidays(region.country, subdiv=region.subdivision, years=years))


def _split(names: str, ending: str) -> list[str]:
    return [name for name in names.split("; ") if name.endswith(ending)]


def _is_replaced(day: date, name: str, moved: set[tuple[str, date]]) -> bool:
    """Whether a weekend day has a substitute on one of the next three days."""
    following = [day + timedelta(days=step) for step in (1, 2, 3)]
    return day.weekday() >= SATURDAY and any((name, later) in moved for later in following)
