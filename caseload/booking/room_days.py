"""Visits counted into what is free day by day: whoever has to be seen first gets the room of the day.

For visits of one slot in sessions that take them all this places as many as can be placed (Glover, Naval Res Logist Q
1967; 14: 313, from memory); for longer visits, and sessions that take only some kinds, it may be a little too few.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import NamedTuple, TypeVar

from caseload.timetable.terms import FollowUpKind

Pool = tuple[date, frozenset[FollowUpKind]]
"""A day, and the kinds that its sessions take: none named is every kind."""
Sort = TypeVar("Sort", bound=Hashable)


class Asked(NamedTuple):
    """`number` visits of so many slots on any day from `first` to `last`; each is `worth` so much."""

    kinds: frozenset[FollowUpKind]
    first: date
    last: date
    slots: int
    number: int
    worth: int
    expected: bool


@dataclass(slots=True)
class _Stretch:
    pool: Pool
    free: int


def day_by_day(asked: Mapping[Sort, Asked], pools: Mapping[Pool, tuple[int, ...]]) -> dict[tuple[Sort, Pool], int]:
    """How many of each go where; those worth more first. `asked` and `pools` come in order of urgency and day."""
    found: dict[tuple[Sort, Pool], int] = {}
    days = {on: _stretches(dict(own)) for on, own in groupby(pools.items(), key=lambda item: item[0][0])}
    for worth in sorted({each.worth for each in asked.values()}, reverse=True):
        waiting = {sort: each.number for sort, each in asked.items() if each.worth == worth}
        coming = _by_day({sort: asked[sort] for sort in waiting}, list(days))
        for (on, stretches), sorts in zip(days.items(), coming, strict=True):
            for sort in sorts:
                if not stretches:
                    break
                if waiting[sort] and (given := _take(stretches, asked[sort], waiting[sort])):
                    found |= {(sort, pool): number for pool, number in given.items()}
                    waiting[sort] -= sum(given.values())
                    stretches = [each for each in stretches if each.free]
            days[on] = stretches
    return found


def _by_day(asked: Mapping[Sort, Asked], days: Sequence[date]) -> list[list[Sort]]:
    """Whose days each day is one of."""
    found: list[list[Sort]] = [[] for _ in days]
    for sort, each in asked.items():
        for at in range(bisect_left(days, each.first), bisect_right(days, each.last)):
            found[at].append(sort)
    return found


def _stretches(pools: Mapping[Pool, tuple[int, ...]]) -> list[_Stretch]:
    """Where fewer kinds may go comes first, so that what takes everything is kept for what needs it."""
    every = [_Stretch(pool, free) for pool, own in pools.items() for free in own]
    return sorted(every, key=lambda each: (not each.pool[1], len(each.pool[1]), each.free))


def _take(stretches: list[_Stretch], asked: Asked, wanted: int) -> dict[Pool, int]:
    """Give room to as many of the alike visits as there is room for."""
    given: dict[Pool, int] = {}
    for each in stretches:
        takes = each.pool[1]
        if each.free >= asked.slots and (not takes or asked.kinds <= takes):
            some = min(wanted, each.free // asked.slots)
            each.free -= some * asked.slots
            given[each.pool] = given.get(each.pool, 0) + some
            wanted -= some
            if not wanted:
                break
    return given
