"""Whether what falls due fits into what is free, by counting day by day.

Decided here:
- Stitches and wounds are placed first, reviews in what they leave: a review never hides that a removal finds no place.
- Of each, day by day, whoever has to be seen first gets the room of the day. For visits of one slot in sessions that
  take them all this places as many as can be placed (Glover, Naval Res Logist Q 1967; 14: 313, from memory); for
  longer visits, and sessions that take only some kinds, it is a count that may be a little too low, never a promise.
- A visit that is late already has to be seen within a week from today.
Nothing is booked: people decide.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from enum import StrEnum
from typing import Final, NamedTuple

from caseload.booking.needs import URGENT
from caseload.timetable.terms import FollowUpKind

LATE_WITHIN: Final = timedelta(days=7)
BEST: Final = 3
"""Proposals of a day for one more session."""


class Visit(NamedTuple):
    """`number` alike visits, each of so many slots on any day from `first` to `last`; `expected` ones are not known
    yet."""

    kinds: frozenset[FollowUpKind]
    first: date
    last: date
    slots: int
    site: int
    number: int = 1
    expected: bool = False


class Room(NamedTuple):
    """What is free of one session: `takes` empty is every kind of visit."""

    on: date
    site: int
    takes: frozenset[FollowUpKind]
    free: int


class Why(StrEnum):
    """Why a visit finds no place."""

    NO_SESSION = "no-session"
    FULL = "full"


class Placed(NamedTuple):
    on: date
    visit: Visit
    number: int


class Short(NamedTuple):
    visit: Visit
    number: int
    why: Why


class Fit(NamedTuple):
    """Where visits would go, and which find no place; `left` is how many slots stay free, by day and site."""

    placed: tuple[Placed, ...]
    short: tuple[Short, ...]
    left: dict[tuple[date, int], int]

    @property
    def missing(self) -> int:
        return sum(each.number for each in self.short)


class _Day:
    """What is left of the sessions of one day at one site."""

    def __init__(self, rooms: Sequence[Room]) -> None:
        # Where fewer kinds may go comes first, so that what takes everything is kept for what needs it.
        self.rooms = sorted(rooms, key=lambda room: (not room.takes, len(room.takes), room.free))
        self.rooms = [room for room in self.rooms if room.free]

    def take(self, visit: Visit, number: int) -> int:
        """Give room to as many of the alike visits as there is room for; how many that is."""
        wanted = number
        for place, room in enumerate(self.rooms):
            if room.free >= visit.slots and takes(room, visit):
                some = min(wanted, room.free // visit.slots)
                self.rooms[place] = room._replace(free=room.free - some * visit.slots)
                wanted -= some
            if not wanted:
                break
        if wanted < number:
            self.rooms = [room for room in self.rooms if room.free]
        return number - wanted


def takes(room: Room, visit: Visit) -> bool:
    return room.site == visit.site and (not room.takes or visit.kinds <= room.takes)


def from_today(visit: Visit, today: date) -> Visit:
    """The days that are left: of one that is late, the week from today."""
    last = visit.last if visit.last >= today else today + LATE_WITHIN
    return visit._replace(first=max(visit.first, today), last=last)


def alike(visits: Iterable[Visit]) -> list[Visit]:
    """The same visits, each kind of them once with its number."""
    found: dict[Visit, int] = defaultdict(int)
    for visit in visits:
        found[visit._replace(number=1)] += visit.number
    return [visit._replace(number=number) for visit, number in found.items()]


def fit(visits: Iterable[Visit], rooms: Iterable[Room], until: date = date.max) -> Fit:
    """Count visits into rooms; sites share nothing, so each is counted by itself.

    What may still be seen after `until`, the last day of the rooms, is not short of one.
    """
    of_site: dict[int, tuple[list[Visit], list[Room]]] = defaultdict(lambda: ([], []))
    for visit in visits:
        of_site[visit.site][0].append(visit)
    for room in rooms:
        of_site[room.site][1].append(room)
    placed: list[Placed] = []
    short: list[Short] = []
    left: dict[tuple[date, int], int] = {}
    for site in sorted(of_site):
        wanted, held = of_site[site]
        days = _by_day(held)
        for urgent in (True, False):
            tier = [visit for visit in wanted if bool(visit.kinds & URGENT) is urgent]
            placed += _seat(tier, days)
            short += _without([visit for visit in tier if visit.last <= until], placed, held)
        left |= {(on, site): sum(room.free for room in day.rooms) for on, day in days.items()}
    return Fit(tuple(placed), tuple(short), left)


def _by_day(rooms: Iterable[Room]) -> dict[date, _Day]:
    found: dict[date, list[Room]] = defaultdict(list)
    for room in rooms:
        found[room.on].append(room)
    return {on: _Day(found[on]) for on in sorted(found)}


def _seat(visits: Sequence[Visit], days: dict[date, _Day]) -> Iterator[Placed]:
    """Day by day, whoever has to be seen first."""
    waiting = dict.fromkeys(visits, 0)
    for visit in visits:
        waiting[visit] += visit.number
    order = sorted(waiting, key=_urgency)
    for on, day in days.items():
        order = [visit for visit in order if on <= visit.last and waiting[visit]]
        for visit in order:
            if not day.rooms:
                break
            if visit.first <= on and (some := day.take(visit, waiting[visit])):
                waiting[visit] -= some
                yield Placed(on, visit, some)


def _urgency(visit: Visit) -> tuple[object, ...]:
    return visit.last, visit.expected, visit.first, -visit.slots, sorted(visit.kinds)


def _without(visits: Sequence[Visit], placed: Iterable[Placed], rooms: Sequence[Room]) -> Iterator[Short]:
    wanted: dict[Visit, int] = defaultdict(int)
    for visit in visits:
        wanted[visit] += visit.number
    for each in placed:
        if each.visit in wanted:
            wanted[each.visit] -= each.number
    left = [visit for visit, number in wanted.items() if number]
    held = {(room.on, room.takes): room for room in rooms}.values()
    for visit in sorted(left, key=_urgency):
        yield Short(visit, wanted[visit], _why(visit, held))


def _why(visit: Visit, rooms: Iterable[Room]) -> Why:
    held = any(takes(room, visit) and visit.first <= room.on <= visit.last for room in rooms)
    return Why.FULL if held else Why.NO_SESSION


class Gain(NamedTuple):
    """What one more session would do: how many more find a place, and which still do not."""

    room: Room
    more: int
    short: tuple[Short, ...]

    @property
    def missing(self) -> int:
        return sum(each.number for each in self.short)


def one_more(visits: Sequence[Visit], rooms: Sequence[Room], extra: Room, missing: int, until: date = date.max) -> Gain:
    """`missing` is how many find no place without it."""
    left = fit(visits, [*rooms, extra], until)
    return Gain(extra, missing - left.missing, left.short)


def best_of(
    visits: Sequence[Visit], rooms: Sequence[Room], extras: Iterable[Room], missing: int, until: date = date.max
) -> tuple[Gain, ...]:
    """The `BEST` that help most, of alike ones the earliest; `extras` in the order of their days.

    A session is not expected to place more than it has slots, so once as many do that, the later ones are not tried.
    """
    found: list[Gain] = []
    for extra in extras:
        found.append(one_more(visits, rooms, extra, missing, until))
        if sum(each.more >= each.room.free for each in found) == BEST:
            break
    helpful = sorted((each for each in found if each.more > 0), key=lambda each: (-each.more, each.room.on))
    return tuple(helpful[:BEST])
