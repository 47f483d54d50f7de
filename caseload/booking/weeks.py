"""The sessions of a week: when they are held, what keeps one from being saved, and which windows they leave empty.

A pattern is a session that a therapist holds every week; its minutes are those of the site's local day.
"""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from itertools import combinations
from typing import Final, NamedTuple

from caseload.booking.clock import exists, instant_of
from caseload.booking.slots import DAY, SLOT, STEP, clock, slots_in
from caseload.errors import Refusal
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import FollowUpKind, Way

WEEK: Final = timedelta(days=7)
EXAMPLES: Final = 3
"""So many of the windows left empty are named."""


class Pattern(NamedTuple):
    """`start` and `end` are minutes of the local day; `takes` empty is every kind; `ends_on` None is without an end."""

    key: int
    therapist: int
    site: int
    weekday: int
    start: int
    end: int
    takes: frozenset[FollowUpKind]
    ways: frozenset[Way]
    starts_on: date
    ends_on: date | None


class Uncovered(NamedTuple):
    """How many windows there are, how many hold no session day, and the first days of some of those."""

    windows: int
    without: int
    examples: tuple[date, ...]


def dates_of(pattern: Pattern, first: date, last: date, calendar: OpenDays) -> tuple[date, ...]:
    """The days of a stretch, both ends included, on which the session is held."""
    return tuple(filter(calendar.is_open, _weekdays_of(pattern, first, last)))


def minutes_of(start: int, end: int, on: date, zone: str) -> tuple[int, ...]:
    """The slots of a dated session; one whose local start the clocks leave out is not among them.

    Raises Refusal `no-such-time` if the session itself would start in the missing hour.
    """
    instant_of(on, start, zone)
    return tuple(minute for minute in slots_in(start, end) if exists(on, minute, zone))


def clash(patterns: Iterable[Pattern]) -> tuple[Pattern, Pattern] | None:
    """Two sessions of one therapist that fall on one day at one time, at whatever site; None if there are none."""
    return next((pair for pair in combinations(patterns, 2) if _meet(*pair)), None)


def check(pattern: Pattern) -> None:
    """Raises Refusal `session-hours`, `session-ways` or `session-dates` for a session that cannot be."""
    check_hours(pattern.start, pattern.end)
    check_ways(pattern.ways)
    if pattern.ends_on is not None and pattern.ends_on < pattern.starts_on:
        said = "The session ends before it begins: give a last day on or after its first."
        raise Refusal("session-dates", said, field="ends_on")


def check_hours(start: int, end: int) -> None:
    """Raises Refusal `session-hours`: a session has room for a slot, inside a day, on whole ten minutes."""
    if not 0 <= start < end <= DAY:
        said = "A session ends after it begins, on the same day: correct its hours."
    elif start % STEP or end % STEP:
        said = f"A session begins and ends on whole {STEP} minutes, such as {clock(start - start % STEP)}."
    elif end - start < SLOT:
        said = f"A session has room for one slot of {SLOT} minutes at least: make it longer."
    else:
        return
    raise Refusal("session-hours", said, field="end")


def check_ways(ways: frozenset[Way]) -> None:
    """Raises Refusal `session-ways` for a session that takes no visit at all."""
    if not ways:
        said = "Say how this session sees people: in person, by telephone or by video; at least one."
        raise Refusal("session-ways", said, field="ways")


def uncovered(days: Iterable[date], windows: Iterable[tuple[date, date]]) -> Uncovered:
    """How many windows (first day, last day) hold none of the session days."""
    held, asked = sorted(days), list(windows)
    empty = [first for first, last in asked if not _any_inside(held, first, last)]
    return Uncovered(len(asked), len(empty), tuple(sorted(set(empty))[:EXAMPLES]))


def _any_inside(held: list[date], first: date, last: date) -> bool:
    place = bisect_left(held, first)
    return place < len(held) and held[place] <= last


def _meet(one: Pattern, other: Pattern) -> bool:
    if (one.therapist, one.weekday) != (other.therapist, other.weekday):
        return False
    if not (one.start < other.end and other.start < one.end):
        return False
    first = max(one.starts_on, other.starts_on)
    return any(_weekdays_of(one, first, min(first + WEEK, other.ends_on or date.max)))


def _weekdays_of(pattern: Pattern, first: date, last: date) -> Iterator[date]:
    """Every day of a stretch with the weekday of the session and inside its dates, open or not."""
    first = max(first, pattern.starts_on)
    last = min(last, pattern.ends_on or last)
    on = first + timedelta(days=(pattern.weekday - first.weekday()) % WEEK.days)
    while on <= last:
        yield on
        on += WEEK
