"""The weeks ahead of one site: what falls due, what is free for it, where it will not fit and what would help.

Counted by `booking.room`; a later engine can stand behind the same values.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import groupby
from typing import Final, NamedTuple

from caseload.booking.expected import Interval
from caseload.booking.room import Fit, Gain, Placed, Room, Short, Visit, alike, best_of, fit, one_more
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import FollowUpKind

WEEKS: Final = 8
"""Whole weeks, beside what is left of this one."""
ONE_DAY: Final = timedelta(days=1)


def days_ahead(today: date) -> tuple[date, date]:
    """Tomorrow, since what is left of today is for who is in the waiting room; and the Sunday after the whole weeks."""
    first = today + ONE_DAY
    until_monday = timedelta(days=-first.weekday() % 7)
    return first, first + until_monday + timedelta(days=7 * WEEKS - 1)


class Day(NamedTuple):
    """One day at one site: visits that are booked, known ones that would be placed on it and expected ones, in slots,
    with what stays free."""

    on: date
    booked: int
    unbooked: int
    expected: int
    free: int


class Week(NamedTuple):
    """What falls due in a week of one site (by the day proposed), and how many of those whose last day lies in it find
    no place: of the known alone, with the expected ones, and with the most that is to be expected."""

    days: tuple[Day, ...]
    booked: int
    unbooked: int
    expected: int
    free: int
    short: int
    short_expected: int
    short_most: int


class Surgery(NamedTuple):
    """Operations at a site: those of the weeks behind, those planned, and what is to be expected in the weeks ahead."""

    behind: int
    planned: int
    ahead: Interval


@dataclass(frozen=True)
class Outlook:
    """`booked` visits are held on one day each. `known`, `middle` and `most` are counted with none, the mean and the
    upper end of what is expected; `usual` is how many slots a session has, as they are held here.
    """

    site: int
    calendar: OpenDays
    first: date
    last: date
    booked: tuple[Visit, ...]
    unbooked: tuple[Visit, ...]
    expected: tuple[Visit, ...]
    expected_most: tuple[Visit, ...]
    rooms: tuple[Room, ...]
    surgery: Surgery
    usual: int

    @cached_property
    def known(self) -> Fit:
        return fit(self.unbooked, self.rooms, self.last)

    @cached_property
    def middle(self) -> Fit:
        return fit(self._all, self.rooms, self.last)

    @cached_property
    def most(self) -> Fit:
        return fit([*self.unbooked, *self.expected_most], self.rooms, self.last, quick=not self.middle.proven)

    @property
    def proven(self) -> bool:
        """Whether what finds no place is proven: known, expected and at most."""
        return self.known.proven and self.middle.proven and self.most.proven

    @cached_property
    def weeks(self) -> list[Week]:
        """From Monday to Sunday; the first begins with the first day."""
        days = days_between(self.first, self.last)
        return [self._week(list(week)) for _, week in groupby(days, key=lambda day: day.isocalendar()[:2])]

    def _week(self, days: Sequence[date]) -> Week:
        first, last = days[0], days[-1]
        known = _number_short(self.known.short, first, last)
        # With more to place, who is without one may lie in another week: never below what is known, or expected.
        middle = max(known, _number_short(self.middle.short, first, last))
        return Week(
            days=tuple(map(self._day, days)),
            booked=_number(self.booked, first, last),
            unbooked=_number(self.unbooked, first, last),
            expected=_number(self.expected, first, last),
            free=sum(room.free for room in self.rooms if first <= room.on <= last),
            short=known,
            short_expected=middle,
            short_most=max(middle, _number_short(self.most.short, first, last)),
        )

    def _day(self, on: date) -> Day:
        placed: Counter[bool] = Counter()
        for each in self._placed.get(on, ()):
            placed[each.visit.expected] += each.number * each.visit.slots
        booked = sum(visit.number * visit.slots for visit in self.booked if visit.first == on)
        return Day(on, booked, placed[False], placed[True], self.middle.left.get((on, self.site), 0))

    @cached_property
    def _placed(self) -> dict[date, list[Placed]]:
        found: dict[date, list[Placed]] = defaultdict(list)
        for each in self.middle.placed:
            found[each.on].append(each)
        return found

    def free_for(self, kinds: Iterable[FollowUpKind]) -> list[tuple[FollowUpKind, tuple[int, ...]]]:
        """For each kind of visit the slots free in sessions that take it, week by week."""
        return [(kind, tuple(self._free_for(kind, week) for week in self.weeks)) for kind in kinds]

    def _free_for(self, kind: FollowUpKind, week: Week) -> int:
        first, last = week.days[0].on, week.days[-1].on
        held = (room for room in self.rooms if not room.takes or kind in room.takes)
        return sum(room.free for room in held if first <= room.on <= last)

    def with_one_more(self, on: date, slots: int, takes: frozenset[FollowUpKind] = frozenset()) -> Gain:
        """What a session of so many slots on a day would do; `takes` empty is every kind of visit."""
        room = Room(on, self.site, takes, slots)
        return one_more(self._all, self.rooms, room, self.middle, self.last)

    def eased(self, gain: Gain) -> list[Week]:
        """The weeks in which somebody finds no place now and everybody would then."""
        weeks = (week for week in self.weeks if week.short_expected)
        return [week for week in weeks if not _number_short(gain.short, week.days[0].on, week.days[-1].on)]

    def best(self) -> tuple[Gain, ...]:
        """The open days on which one more session of the usual length would help, the best first."""
        short = [each.visit for each in self.middle.short]
        days = self.calendar.open_days(self.first, self.last)
        useful = (on for on in days if any(visit.first <= on <= visit.last for visit in short))
        extras = (Room(on, self.site, frozenset(), self.usual) for on in useful)
        return best_of(self._all, self.rooms, extras, self.middle, self.last)

    @cached_property
    def _all(self) -> list[Visit]:
        return alike([*self.unbooked, *self.expected])


def days_between(first: date, last: date) -> list[date]:
    """Both days included."""
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]


def _number(visits: Iterable[Visit], first: date, last: date) -> int:
    """How many are to be seen within some days: by the middle of their window."""
    return sum(visit.number for visit in visits if first <= _middle(visit) <= last)


def _middle(visit: Visit) -> date:
    return visit.first + (visit.last - visit.first) // 2


def _number_short(short: Iterable[Short], first: date, last: date) -> int:
    return sum(each.number for each in short if first <= each.visit.last <= last)
