"""The open days of a site: the weekdays it opens, without public holidays and closures; and its session days.

Decides: which days a visit can be proposed on, and which of those a session offers. Assumes: outside the stretch that
the holiday rows cover nothing is known, so no day there counts as open; it is marked when derived and refused when
booked.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import islice
from typing import Any, Final, NamedTuple, TypeVar

from caseload.timetable.plan import Reason
from caseload.timetable.terms import FollowUpKind

Answer = TypeVar("Answer")

ONE_DAY: Final = timedelta(days=1)
LONGEST_CLOSURE: Final = 400
"""Days looked ahead for the next open day; a site closed for longer than this has no next open day."""
REMEMBERED: Final = 50_000
"""Answers kept before the memory of a calendar is emptied: a bound on memory, not on the answers."""


class Closed(NamedTuple):
    """A stretch over which a site is closed, both ends included."""

    starts_on: date
    ends_on: date
    reason: str = ""


class SessionDays(NamedTuple):
    """The days on which sessions of a site are held, each with what it offers (empty: every kind).

    They are known from `known_from` to `known_until`; of other days nobody can say yet what will be held.
    """

    known_from: date
    known_until: date
    held: Mapping[date, frozenset[FollowUpKind]]

    def may_offer(self, kind: FollowUpKind, day: date) -> bool:
        """Whether a session offers this kind of visit on a day; where none is known it may."""
        if not self.known_from <= day <= self.known_until:
            return True
        kinds = self.held.get(day)
        return kinds is not None and (not kinds or kind in kinds)


@dataclass(frozen=True, eq=False)
class OpenDays:
    """The calendar of one site. `holidays` name the closed days; `weekdays` are 0 (Monday) to 6. Without `sessions`
    any open day will do for a visit.

    Compared by identity: what it has worked out is remembered on it.
    """

    weekdays: frozenset[int]
    holidays: Mapping[date, str]
    covered_from: date
    covered_until: date
    closures: tuple[Closed, ...] = ()
    sessions: SessionDays | None = None
    _remembered: dict[object, Any] = field(default_factory=dict, init=False, repr=False)

    def is_open(self, day: date) -> bool:
        return self.recall(day, lambda: self.why_closed(day) is None)

    def why_closed(self, day: date) -> Reason | None:
        """The reason why nothing can be booked on a day, None on an open day."""
        if not self.covers(day, day):
            return Reason("no-holiday-data", (self.covered_from, self.covered_until))
        if day in self.holidays:
            return Reason("holiday", (self.holidays[day],))
        for closed in self.closures:
            if closed.starts_on <= day <= closed.ends_on:
                return Reason("closure", (closed.reason,))
        return None if day.weekday() in self.weekdays else Reason("weekday", (day.weekday(),))

    def covers(self, first: date, last: date) -> bool:
        """Whether the holiday rows cover every day of the stretch."""
        return self.covered_from <= first and last <= self.covered_until

    def open_days(self, first: date, last: date) -> tuple[date, ...]:
        """The open days of a stretch, both ends included; empty where `last` is before `first`."""
        return self.recall(("days", first, last), lambda: self._open_days(first, last))

    def usable_days(self, kind: FollowUpKind, first: date, last: date) -> tuple[date, ...]:
        """The open days of a stretch on which a session offers this kind of visit."""
        sessions = self.sessions
        if sessions is None:
            return self.open_days(first, last)
        return self.recall(
            (kind, first, last),
            lambda: tuple([day for day in self.open_days(first, last) if sessions.may_offer(kind, day)]),
        )

    def nearest_inside(self, earliest: date, latest: date, target: date) -> date | None:
        """The open day inside the window that is nearest the target, the later on a tie; None if there is none.

        Never rolled out of the window: rolling forward reaches day 18 at Easter, back day 8.
        """
        days = self.open_days(earliest, latest)
        return min(days, key=lambda day: (abs((day - target).days), target - day)) if days else None

    def first_after(self, day: date) -> date | None:
        """The first open day after a day; None where none is known."""
        days = self.next_open_days(day, 1)
        return days[0] if days else None

    def next_open_days(self, day: date, count: int) -> tuple[date, ...]:
        """The first `count` open days after a day, fewer where the holiday data end or the site stays closed."""
        return self.recall(("after", day, count), lambda: self._next_open_days(day, count))

    def last_open_days(self, day: date, count: int) -> tuple[date, ...]:
        """The last `count` open days before a day, the latest first; fewer where the holiday data begin."""
        return self.recall(("before", day, count), lambda: self._last_open_days(day, count))

    def recall(self, key: object, work_out: Callable[[], Answer]) -> Answer:
        """The answer kept under a key, worked out the first time it is asked for."""
        found: Answer | None = self._remembered.get(key)
        if found is None:
            found = work_out()
            if len(self._remembered) >= REMEMBERED:
                self._remembered.clear()
            self._remembered[key] = found
        return found

    def _open_days(self, first: date, last: date) -> tuple[date, ...]:
        first, last = max(first, self.covered_from), min(last, self.covered_until)
        return tuple([day for day in _days_from(first, (last - first).days + 1) if self.is_open(day)])

    def _next_open_days(self, day: date, count: int) -> tuple[date, ...]:
        start = max(day + ONE_DAY, self.covered_from)
        steps = min((self.covered_until - start).days + 1, LONGEST_CLOSURE)
        return tuple(islice(filter(self.is_open, _days_from(start, steps)), count))

    def _last_open_days(self, day: date, count: int) -> tuple[date, ...]:
        end = min(day - ONE_DAY, self.covered_until)
        steps = min((end - self.covered_from).days + 1, LONGEST_CLOSURE)
        days = tuple(_days_from(end - timedelta(days=steps - 1), steps))
        return tuple(islice(filter(self.is_open, reversed(days)), count))


def _days_from(first: date, count: int) -> Iterator[date]:
    """So many days in a row; none for a count below one."""
    return map(date.fromordinal, range(first.toordinal(), first.toordinal() + count))
