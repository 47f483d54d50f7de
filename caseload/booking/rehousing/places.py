"""Every day that somebody could be given and every start there is, as arrays, and what each adds to the aims.

What somebody adds hangs on the day and on whether their own therapist is kept; only the gaps hang on the minute. So
visits that can begin at the same starts choose a *group*: all starts of a day, or those of it with one therapist. Which
visit of a group takes which of its starts is the same to every aim, and is left open: a thirtieth of the columns.

Slots are numbered in order of day, session and minute, so those that a visit takes follow one another. The slots of
somebody who may move are there as well: they have room once their holder has left.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Final, NamedTuple

import numpy as np

from caseload.booking.cost import GAP, cost_of_day, gaps_beside
from caseload.booking.needs import URGENT, Need
from caseload.booking.offers import Now, is_inside, starts_after
from caseload.booking.openings import Opening, takes_all
from caseload.booking.rehousing.terms import Kept, Lost
from caseload.booking.slots import slots_for, slots_in
from caseload.booking.solver import Ints
from caseload.timetable.terms import Way

OUTSIDE, MOVED, LATE, COST = range(4)
"""The aims in their order, of each the less the better: lost ones outside their window, an urgent one counting more
than all others together; kept ones who move; days late, nowhere at all counting more than any; points."""
NOBODY: Final = -1


class Visit(NamedTuple):
    """Somebody to be placed. `held` is the first slot of a kept one, who costs `cost` there; `NOBODY` of a lost one."""

    appointment: int
    need: Need
    way: Way
    length: int
    held: int = NOBODY
    cost: int = 0


class Days(NamedTuple):
    """A visit on a day, in order of visit: with whomever, or (`own` is a group) with its own therapist."""

    visit: Ints
    day: Ints
    own: Ints
    aims: Ints


class Starts(NamedTuple):
    """First slots, each for one length; `day` and `own` are the groups it belongs to."""

    first: Ints
    length: Ints
    day: Ints
    own: Ints
    aims: Ints


class Diary(NamedTuple):
    """`openings` have the slots of the kept as if they were free; `room` is 0 for a slot that is held."""

    openings: tuple[Opening, ...]
    slots: tuple[tuple[int, int], ...]
    room: Ints
    visits: tuple[Visit, ...]
    days: Days
    starts: Starts


def diary_of(lost: Sequence[Lost], kept: Iterable[Kept], openings: Iterable[Opening], now: Now) -> Diary:
    """What is free and who may go where. Who is kept today or earlier, or in a session that is not there, stays."""
    known = {each.session: each for each in openings}
    moving = [each for each in kept if _may_move(each, known, now)]
    whole = tuple(sorted(_with_held(known, moving), key=lambda each: (each.on, each.session)))
    slots = tuple((each.session, minute) for each in whole for minute in each.free)
    number = {slot: at for at, slot in enumerate(slots)}
    visits = [_visit(each) for each in lost]
    visits += [_kept(each, known[each.session], number[each.session, each.start]) for each in moving]
    room = np.ones(len(slots), np.int64)
    for each in visits[len(lost) :]:
        room[each.held : each.held + each.length] = 0
    return Diary(whole, slots, room, tuple(visits), *_columns(visits, _Tables(whole, known, now)))


def _may_move(each: Kept, known: Mapping[int, Opening], now: Now) -> bool:
    opening = known.get(each.session)
    if opening is None or opening.on <= now.today:
        return False
    return set(slots_for(each.start, each.need.minutes)) <= set(slots_in(opening.start, opening.end))


def _with_held(known: Mapping[int, Opening], moving: Iterable[Kept]) -> Iterator[Opening]:
    held = {session: set(opening.free) for session, opening in known.items()}
    for each in moving:
        held[each.session].update(slots_for(each.start, each.need.minutes))
    return (opening._replace(free=tuple(sorted(held[session]))) for session, opening in known.items())


def _visit(each: Lost | Kept) -> Visit:
    """What needs to be seen in person is seen in person, however it was booked."""
    way = Way.IN_PERSON if each.need.in_person else each.way
    return Visit(each.appointment, each.need, way, len(slots_for(0, each.need.minutes)))


def _kept(each: Kept, opening: Opening, held: int) -> Visit:
    own = each.need.therapist in (None, opening.therapist)
    return _visit(each)._replace(held=held, cost=cost_of_day(each.need, opening.on, own).total)


class _Table(NamedTuple):
    """Where visits of one length and kind can begin. `groups` has one for each day, in order of `days`, and `own` one
    for each day and therapist."""

    days: list[date]
    groups: range
    own: dict[tuple[date, int], int]
    starts: Starts


class _Tables:
    """Made once for all visits alike, and once for all kinds that can begin at the same starts."""

    def __init__(self, openings: Sequence[Opening], known: Mapping[int, Opening], now: Now) -> None:
        self._openings, self._known, self._now = openings, known, now
        self._of_kind: dict[object, _Table] = {}
        self.every: dict[object, _Table] = {}
        self._groups = 0

    def of(self, visit: Visit) -> _Table:
        kind = visit.need.site, visit.need.kinds, visit.way, visit.length
        if kind not in self._of_kind:
            found = tuple(self._starts(visit))
            alike = visit.length, tuple(first for _, first, _ in found)
            if alike not in self.every:
                self.every[alike] = self._table(visit.length, found)
            self._of_kind[kind] = self.every[alike]
        return self._of_kind[kind]

    def _starts(self, visit: Visit) -> Iterator[tuple[Opening, int, int]]:
        """Openings, first slots and gaps beside them, which are counted by what is free now."""
        number, minutes = 0, visit.need.minutes
        for opening in self._openings:
            if takes_all(opening, visit.need, visit.way):
                at = {minute: number + turn for turn, minute in enumerate(opening.free)}
                free = frozenset(self._known[opening.session].free)
                for each in starts_after(opening, minutes, self._now):
                    yield opening, at[each], gaps_beside(free, each, minutes)
            number += len(opening.free)

    def _table(self, length: int, found: Sequence[tuple[Opening, int, int]]) -> _Table:
        days = sorted({opening.on for opening, *_ in found})
        groups = range(self._groups, self._groups + len(days))
        pairs = sorted({(opening.on, opening.therapist) for opening, *_ in found})
        own = {pair: groups.stop + turn for turn, pair in enumerate(pairs)}
        self._groups = groups.stop + len(own)
        day = dict(zip(days, groups, strict=True))
        rows = [
            (first, length, day[opening.on], own[opening.on, opening.therapist], 0, 0, 0, gaps * GAP)
            for opening, first, gaps in found
        ]
        first, lengths, days_of, owns, *aims = np.array(rows, np.int64).reshape(-1, 8).T
        return _Table(days, groups, own, Starts(first, lengths, days_of, owns, np.array(aims)))


def _columns(visits: Sequence[Visit], tables: _Tables) -> tuple[Days, Starts]:
    weight = 1 + sum(each.held == NOBODY and not each.need.kinds & URGENT for each in visits)
    rows = [row for at, visit in enumerate(visits) for row in _days_of(at, visit, tables.of(visit), weight)]
    visit, day, own, *parts = np.array(rows, np.int64).reshape(-1, 7).T
    aims = np.array(parts)
    late = aims[LATE] > 0
    aims[LATE, late] -= 1 + len(visits) * aims[LATE].max(initial=0)
    starts = [each.starts for each in tables.every.values()]
    return Days(visit, day, own, aims), _joined(starts)


def _joined(several: Iterable[Starts]) -> Starts:
    nothing = np.zeros(0, np.int64)
    none = Starts(nothing, nothing, nothing, nothing, np.zeros((4, 0), np.int64))
    return Starts._make(np.concatenate(each, axis=-1) for each in zip(none, *several, strict=True))


def _days_of(at: int, visit: Visit, table: _Table, weight: int) -> Iterator[tuple[int, ...]]:
    """Visit, group of the day, group of the own therapist, and the aims. None of it before a window."""
    need, lost = visit.need, visit.held == NOBODY
    window = -lost * (weight if need.kinds & URGENT else 1)
    for on, day in zip(table.days, table.groups, strict=True):
        late = 0 if need.provisional or on < need.earliest else max(0, (on - need.latest).days)
        inside = is_inside(need, on)
        if not (inside or lost and late):
            continue
        own = NOBODY if need.therapist is None else table.own.get((on, need.therapist), NOBODY)
        rest = window * inside, 1 - lost, late
        yield at, day, NOBODY, *rest, cost_of_day(need, on, need.therapist is None).total - visit.cost
        if own != NOBODY:
            yield at, day, own, *rest, cost_of_day(need, on, True).total - visit.cost
