"""Whether what falls due fits into what is free: exactly how much of it, and what one more session would place.

Decided here:
- Stitches and wounds are placed first, reviews in what they leave: a review never hides that a removal finds no place.
- Of each as many as can be: counted day by day, which a linear program may prove to be the most; else by one that is
  sharpened until it answers in whole numbers (`booking.room_program`). Whoever has to be seen first is rather placed,
  and rather early. Where that would take too long for a page, it is a count that may be a little too low, and says so.
- What may still be seen after the last day that is looked at gives way to what may not.
- A visit that is late already has to be seen within a week from today.
Nothing is booked: people decide.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from typing import Final, NamedTuple

from caseload.booking.needs import URGENT
from caseload.booking.room_days import Asked, Pool, day_by_day
from caseload.booking.room_program import in_order, place
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
    """What is free of one session, in slots, and the stretches of it that lie one after the other (none told: all of
    it in one); `takes` empty is every kind of visit."""

    on: date
    site: int
    takes: frozenset[FollowUpKind]
    free: int
    stretches: tuple[int, ...] = ()

    @property
    def runs(self) -> tuple[int, ...]:
        return self.stretches or ((self.free,) if self.free else ())


class Why(StrEnum):
    """Why a visit finds no place."""

    NO_SESSION = "no-session"
    FULL = "full"


class Placed(NamedTuple):
    """`takes` are the kinds that the sessions take in which it is placed."""

    on: date
    visit: Visit
    number: int
    takes: frozenset[FollowUpKind] = frozenset()


class Short(NamedTuple):
    visit: Visit
    number: int
    why: Why


class Fit(NamedTuple):
    """Where visits would go, and which find no place; `left` is how many slots stay free, by day and site.

    `proven`: no more can be placed, those that come first before the others."""

    placed: tuple[Placed, ...]
    short: tuple[Short, ...]
    left: dict[tuple[date, int], int]
    proven: bool = True

    @property
    def missing(self) -> int:
        return sum(each.number for each in self.short)


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


def fit(
    visits: Iterable[Visit],
    rooms: Iterable[Room],
    until: date = date.max,
    *,
    quick: bool = False,
    known: Iterable[Placed] = (),
) -> Fit:
    """Place visits into rooms; sites share nothing, so each is looked at by itself.

    What may still be seen after `until`, the last day of the rooms, is not short of one. `quick`: day by day only.
    `known` is a way to place them, which stands where none places more.
    """
    placed: list[Placed] = []
    short: list[Short] = []
    left: dict[tuple[date, int], int] = {}
    proven, ways = True, Counter[tuple[Visit, Pool]]()
    for each in known:
        ways[each.visit, (each.on, each.takes)] += each.number
    for site, (wanted, held) in _by_site(visits, rooms).items():
        asked, pools = _asked(wanted, until), _pools(held)
        own_ways = {way: number for way, number in ways.items() if way[0].site == site}
        found = in_order(asked, pools) if quick else place(asked, pools, own_ways)
        own = [Placed(on, visit, number, kinds) for (visit, (on, kinds)), number in found.numbers.items()]
        own.sort(key=lambda each: (each.on, _urgency(each.visit)))
        placed += own
        short += _without([visit for visit in wanted if visit.last <= until], own, held)
        left |= _left(site, held, own)
        proven &= found.proven
    return Fit(tuple(placed), tuple(short), left, proven)


def _by_site(visits: Iterable[Visit], rooms: Iterable[Room]) -> dict[int, tuple[list[Visit], list[Room]]]:
    of_site: dict[int, tuple[list[Visit], list[Room]]] = defaultdict(lambda: ([], []))
    for visit in visits:
        of_site[visit.site][0].append(visit)
    for room in rooms:
        of_site[room.site][1].append(room)
    return {site: of_site[site] for site in sorted(of_site)}


class _Worth(NamedTuple):
    """What one visit is worth: each more than all below it together. What may still be seen later is worth nothing."""

    urgent: int
    review: int


def _worth(visits: Iterable[Visit], until: date) -> _Worth:
    return _Worth(1 + sum(visit.number for visit in visits if visit.last <= until and not visit.kinds & URGENT), 1)


def _asked(visits: Sequence[Visit], until: date) -> dict[Visit, Asked]:
    waiting: dict[Visit, int] = dict.fromkeys(sorted(visits, key=_urgency), 0)
    for visit in visits:
        waiting[visit] += visit.number
    worth = _worth(visits, until)
    return {visit: _one(visit, number, worth, until) for visit, number in waiting.items()}


def _one(visit: Visit, number: int, worth: _Worth, until: date) -> Asked:
    own = 0 if visit.last > until else worth.urgent if visit.kinds & URGENT else worth.review
    return Asked(visit.kinds, visit.first, visit.last, visit.slots, number, own, visit.expected)


def _pools(rooms: Iterable[Room], before: Mapping[Pool, tuple[int, ...]] | None = None) -> dict[Pool, tuple[int, ...]]:
    """In order of their days; with those of `before`."""
    found: dict[Pool, tuple[int, ...]] = dict(before or {})
    for room in rooms:
        found[room.on, room.takes] = (*found.get((room.on, room.takes), ()), *room.runs)
    return {pool: tuple(sorted(found[pool])) for pool in sorted(found, key=lambda pool: (pool[0], sorted(pool[1])))}


def _left(site: int, held: Iterable[Room], placed: Iterable[Placed]) -> dict[tuple[date, int], int]:
    left: dict[tuple[date, int], int] = defaultdict(int)
    for room in sorted(held, key=lambda room: room.on):
        left[room.on, site] += room.free
    for each in placed:
        left[each.on, site] -= each.number * each.visit.slots
    return dict(left)


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


def one_more(
    visits: Sequence[Visit],
    rooms: Sequence[Room],
    extra: Room,
    before: Fit,
    until: date = date.max,
    known: Iterable[Placed] = (),
) -> Gain:
    """`before` is how they fit without it; `known` a way to place them with it. Where the one or the other is not
    proven, both are counted day by day, so that like is held against like."""
    after = fit(visits, [*rooms, extra], until, quick=not before.proven, known=known)
    if before.proven and not after.proven:
        after = fit(visits, [*rooms, extra], until, quick=True)
    if not after.proven:
        before = fit(visits, rooms, until, quick=True)
    return Gain(extra, before.missing - after.missing, after.short)


def best_of(
    visits: Sequence[Visit], rooms: Sequence[Room], extras: Iterable[Room], before: Fit, until: date = date.max
) -> tuple[Gain, ...]:
    """The `BEST` that help most, of alike ones the earliest; `extras`, at one site, in the order of their days.

    Which they are is counted day by day; what each of these does, as in `one_more`. A session is not expected to place
    more than it has slots, so once as many do that, the later ones are not tried.
    """
    tried: list[tuple[int, Room]] = []
    visits = [visit for visit in visits if visit.last <= until]
    for more, extra in _more_by_day(visits, rooms, extras, until):
        tried.append((more, extra))
        if sum(more >= each.free for more, each in tried) == BEST:
            break
    helpful = sorted((each for each in tried if each[0] > 0), key=lambda each: (-each[0], each[1].on))[:BEST]
    found = [one_more(visits, rooms, extra, before, until, _filled(before, extra, until)) for _, extra in helpful]
    return tuple(sorted((each for each in found if each.more > 0), key=lambda each: (-each.more, each.room.on)))


def _filled(before: Fit, extra: Room, until: date) -> Iterator[Placed]:
    """As before, and in one more session whoever has no place: short visits first, since more of them fit. Whoever
    gives way to all others is left out."""
    yield from (each for each in before.placed if each.visit.last <= until)
    short = sorted((each for each in before.short if each.visit.site == extra.site), key=lambda each: each.visit.slots)
    worth = _worth((each.visit for each in short), until)
    asked = {each.visit: _one(each.visit, each.number, worth, until) for each in short}
    for (visit, (on, kinds)), number in day_by_day(asked, _pools([extra])).items():
        yield Placed(on, visit, number, kinds)


def _more_by_day(
    visits: Sequence[Visit], rooms: Sequence[Room], extras: Iterable[Room], until: date
) -> Iterator[tuple[int, Room]]:
    """How many more find a place with each, counted day by day."""
    asked, pools = _asked(visits, until), _pools(rooms)
    alone = sum(day_by_day(asked, pools).values())
    for extra in extras:
        yield sum(day_by_day(asked, _pools([extra], pools)).values()) - alone, extra
