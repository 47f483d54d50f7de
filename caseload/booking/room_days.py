"""Visits counted into what is free day by day: whoever has to be seen first gets the room of the day.

For visits of one slot in sessions that take them all this places as many as can be placed (Glover, Naval Res Logist Q
1967; 14: 313, from memory); for longer visits, and sessions that take only some kinds, it may be a little too few.
"""

from collections.abc import Hashable, Mapping
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


class _Stretch(NamedTuple):
    pool: Pool
    free: int


def day_by_day(asked: Mapping[Sort, Asked], pools: Mapping[Pool, tuple[int, ...]]) -> dict[tuple[Sort, Pool], int]:
    """How many of each go where; those worth more first. `asked` and `pools` come in order of urgency and day."""
    found: dict[tuple[Sort, Pool], int] = {}
    days = {on: _stretches(dict(own)) for on, own in groupby(pools.items(), key=lambda item: item[0][0])}
    for worth in sorted({each.worth for each in asked.values()}, reverse=True):
        waiting = {sort: each.number for sort, each in asked.items() if each.worth == worth}
        for on, stretches in days.items():
            for sort in [sort for sort in waiting if waiting[sort] and asked[sort].first <= on <= asked[sort].last]:
                for pool, number in _take(stretches, asked[sort], waiting[sort]).items():
                    found[sort, pool] = found.get((sort, pool), 0) + number
                    waiting[sort] -= number
    return found


def _stretches(pools: Mapping[Pool, tuple[int, ...]]) -> list[_Stretch]:
    """Where fewer kinds may go comes first, so that what takes everything is kept for what needs it."""
    every = [_Stretch(pool, free) for pool, own in pools.items() for free in own]
    return sorted(every, key=lambda each: (not each.pool[1], len(each.pool[1]), each.free))


def _take(stretches: list[_Stretch], asked: Asked, wanted: int) -> dict[Pool, int]:
    """Give room to as many of the alike visits as there is room for."""
    given: dict[Pool, int] = {}
    for at, (pool, free) in enumerate(stretches):
        some = min(wanted, free // asked.slots)
        if some and (not pool[1] or asked.kinds <= pool[1]):
            stretches[at] = _Stretch(pool, free - some * asked.slots)
            given[pool] = given.get(pool, 0) + some
            wanted -= some
    return given
