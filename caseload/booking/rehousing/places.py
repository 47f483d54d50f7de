"""Every place that somebody could be given, as arrays, and what it adds to each aim.

A place is a visit with its first slot. Slots are numbered in order of day, session and minute, so those of a place
follow one another. The slots of somebody who may move are there as well: they have room once their holder has left.
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


class Places(NamedTuple):
    """In order of visit and slot. `aims` has a row for each aim."""

    visit: Ints
    first: Ints
    aims: Ints


class Diary(NamedTuple):
    """`openings` have the slots of the kept as if they were free; `room` is 0 for a slot that is held."""

    openings: tuple[Opening, ...]
    slots: tuple[tuple[int, int], ...]
    room: Ints
    visits: tuple[Visit, ...]
    places: Places


class _Starts(NamedTuple):
    """Where visits of one length and kind can begin, in order of day; `day` is a place in `days`."""

    days: list[date]
    day: Ints
    first: Ints
    therapist: Ints
    gaps: Ints


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
    return Diary(whole, slots, room, tuple(visits), _places(visits, whole, known, now))


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


def _places(visits: Sequence[Visit], openings: Sequence[Opening], known: Mapping[int, Opening], now: Now) -> Places:
    weight = 1 + sum(each.held == NOBODY and not each.need.kinds & URGENT for each in visits)
    starts: dict[object, _Starts] = {}
    found = [(np.zeros(0, np.int64), np.zeros((4, 0), np.int64))]
    for visit in visits:
        like = visit.need.site, visit.need.kinds, visit.way, visit.length
        if like not in starts:
            starts[like] = _starts(visit, openings, known, now)
        found.append(_places_of(visit, starts[like], weight))
    first, aims = (np.concatenate(each, axis=-1) for each in zip(*found, strict=True))
    late = aims[LATE] > 0
    aims[LATE, late] -= 1 + len(visits) * aims[LATE].max(initial=0)
    return Places(np.repeat(np.arange(len(visits)), [len(each) for each, _ in found[1:]]), first, aims)


def _starts(visit: Visit, openings: Sequence[Opening], known: Mapping[int, Opening], now: Now) -> _Starts:
    """Gaps are counted by what is free now."""
    found: list[tuple[date, int, int, int]] = []
    number = 0
    for opening in openings:
        if takes_all(opening, visit.need, visit.way):
            at = {minute: number + turn for turn, minute in enumerate(opening.free)}
            minutes = starts_after(opening, visit.need.minutes, now)
            free, need = frozenset(known[opening.session].free), visit.need
            found += [
                (opening.on, at[each], opening.therapist, gaps_beside(free, each, need.minutes) * GAP)
                for each in minutes
            ]
        number += len(opening.free)
    days = sorted({on for on, *_ in found})
    turn = {on: at for at, on in enumerate(days)}
    columns = np.array([(turn[on], *rest) for on, *rest in found], np.int64).reshape(-1, 4)
    return _Starts(days, *columns.T)


def _places_of(visit: Visit, starts: _Starts, weight: int) -> tuple[Ints, Ints]:
    """The first slots of a visit, and what each place adds to the aims."""
    need, lost = visit.need, int(visit.held == NOBODY)
    inside, late, own, other = np.array([_of_day(need, on) for on in starts.days], np.int64).reshape(-1, 4).T
    wanted = (inside + lost * late)[starts.day] > 0
    those = np.flatnonzero(wanted & (starts.first != visit.held))
    day = starts.day[those]
    with_own = True if need.therapist is None else starts.therapist[those] == need.therapist
    aims = np.zeros((4, len(those)), np.int64)
    aims[OUTSIDE] = -lost * inside[day] * (weight if need.kinds & URGENT else 1)
    aims[MOVED] = 1 - lost
    aims[LATE] = late[day]
    aims[COST] = np.where(with_own, own[day], other[day]) + starts.gaps[those] - visit.cost
    return starts.first[those], aims


def _of_day(need: Need, on: date) -> tuple[int, int, int, int]:
    """Whether a day is inside, days late, cost with the own therapist and with another. None of it before a window."""
    late = 0 if need.provisional or on < need.earliest else max(0, (on - need.latest).days)
    return is_inside(need, on), late, cost_of_day(need, on, True).total, cost_of_day(need, on, False).total
