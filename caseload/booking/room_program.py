"""Most visits into what is free, as a small program in whole numbers: how many of each sort go into each pool.

The pools are those of one site: a day, and the kinds that sessions of it take. A pool gives places for each length of
visit, as many as its stretches hold in each of the ways of `filling.room`. Where an answer does not go into the
stretches of a pool after all, that pool is seen stretch by stretch.
"""

from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import Final, Generic, NamedTuple

import numpy as np

from caseload.booking.filling.matrix import Entry, Matrix
from caseload.booking.filling.room import WEIGHTS, most_in
from caseload.booking.room_days import Asked, Pool, Sort, day_by_day
from caseload.booking.sharpening import NOTHING, Sharpened
from caseload.booking.solver import Answer, Columns, Floats, solve

LIMIT: Final = 0.5
"""Seconds of solving, since somebody waits for the page."""
MOST: Final = 2_000
"""Of more ways to go somewhere than this the page is not made to wait for a proof."""
ROUNDS: Final = 25
"""So often a bound is sharpened, and twice as often who goes where."""
LATER: Final = 1e6
"""What it takes off the cost to place somebody who is worth nothing: above what all others can be moved for."""
TRIED: Final = 30
"""Of more visits in one day than this it is not tried in every way whether they go into its stretches."""


Numbers = dict[tuple[Sort, Pool], int]


class Found(NamedTuple, Generic[Sort]):
    """How many of each go where; `proven`: no more can be placed."""

    numbers: dict[tuple[Sort, Pool], int]
    proven: bool


class _Program(NamedTuple):
    """`tiers` are the columns of visits worth the same, those worth more first; `later` those worth nothing. The first
    columns, `asked` of them, say who goes where; the others, what places a pool gives, need be no more than that."""

    columns: Columns
    asked: int
    tiers: Sequence[Floats]
    later: Floats
    most: Floats
    lower: Floats
    limits: Floats

    def with_at_least(self, values: Floats, number: int) -> "_Program":
        """With one row more: of these, at least so many."""
        return self._replace(
            columns=self.columns.with_row(values),
            lower=np.append(self.lower, number),
            limits=np.append(self.limits, np.inf),
        )


def in_order(asked: Mapping[Sort, Asked], pools: Mapping[Pool, tuple[int, ...]]) -> "Found[Sort]":
    """Day by day, which proves nothing."""
    return Found(day_by_day(asked, pools), proven=False)


def place(
    asked: Mapping[Sort, Asked], pools: Mapping[Pool, tuple[int, ...]], known: Numbers[Sort] | None = None
) -> "Found[Sort]":
    """How many of each go where: the most by worth, and of these who has to be seen first, early.

    Day by day, or what is known already, may be best, as a linear program shows, which allows more than whole visits.
    """
    found = max(day_by_day(asked, pools), known or {}, key=lambda numbers: _counted(asked, numbers))
    pairs = list(_pairs(asked, pools))
    if not pairs or len(pairs) > MOST:
        return Found(found, proven=not pairs)
    best = _best(asked, pairs, pools, found)
    return Found(found, proven=False) if best is None else Found(best, proven=True)


def _counted(asked: Mapping[Sort, Asked], numbers: Numbers[Sort]) -> list[int]:
    """How many are placed of each worth."""
    counted = dict.fromkeys(_worths(asked), 0)
    for (sort, _), number in numbers.items():
        counted[asked[sort].worth] += number
    return list(counted.values())


def _worths(asked: Mapping[Sort, Asked]) -> list[int]:
    """The greatest first, nothing last."""
    return sorted({0, *(each.worth for each in asked.values())}, reverse=True)


def _best(
    asked: Mapping[Sort, Asked],
    pairs: Sequence[tuple[Sort, Pool]],
    pools: Mapping[Pool, tuple[int, ...]],
    known: Numbers[Sort],
) -> Numbers[Sort] | None:
    """None where time is up before there is an answer; `known` itself where no plan places more."""
    apart = set[Pool]()
    while True:
        program = _program(asked, pairs, {pool: _shares(pools[pool], pool in apart) for pool in pools})
        values = _values(program, _cost(asked, pairs, len(program.most)), _counted(asked, known))
        if values is None:
            return known
        found = {pair: int(number) for pair, number in zip(pairs, values, strict=False) if number > 0.5}
        failed = _too_full(asked, found, pools) - apart
        if not failed:
            return found if len(values) else None
        apart |= failed


def _values(program: _Program, cost: Floats, counted: Sequence[int]) -> Floats | None:
    """None where no more can be placed than was counted, nothing where time is up before there is an answer."""
    most: list[int] = []
    left = LIMIT
    while True:
        sharper = Sharpened(program.columns, program.most, program.limits, program.asked, left)
        bounds = _bounds(sharper, program, counted, most)
        if bounds == counted[:-1] and sharper.most(program.later, 0) == counted[-1]:
            return None
        values = sharper.least(cost, 2 * ROUNDS) if len(bounds) == len(program.tiers) else NOTHING
        if len(values) and sharper.is_whole(values):
            return np.round(values)
        left -= sharper.seconds
        if len(values):
            answer = _in_whole_numbers(program, cost, bounds, left)
            if answer.bound < np.inf:
                return answer.values
            left -= answer.seconds
        most = _one_less(bounds)


def _bounds(sharper: Sharpened, program: _Program, counted: Sequence[int], most: Sequence[int]) -> list[int]:
    """How many can be placed at the most, those worth more first, as far as each allows the next; from now on it is so
    many. `most` is known already of the first."""
    found: list[int] = []
    for at, of in enumerate(program.tiers):
        known = counted[at] if found == counted[:at] else -1
        bound = most[at] if at < len(most) else sharper.most(of, ROUNDS, known)
        if bound is None:
            break
        found.append(bound)
        sharper.at_least(of, bound)
    return found


def _one_less(bounds: Sequence[int]) -> list[int]:
    """What the bounds say together is too much: of the last that asks for anything there is one less."""
    last = max(at for at, bound in enumerate(bounds) if bound)
    return [*bounds[:last], bounds[last] - 1]


def _in_whole_numbers(program: _Program, cost: Floats, bounds: Sequence[int], limit: float) -> Answer:
    """Its own bound is without end where there is no answer."""
    for of, number in zip(program.tiers, bounds, strict=True):
        program = program.with_at_least(of, number)
    return solve(cost, program.most, program.columns, program.lower, program.limits, limit=max(0.0, limit))


def _pairs(asked: Mapping[Sort, Asked], pools: Mapping[Pool, tuple[int, ...]]) -> Iterator[tuple[Sort, Pool]]:
    """Which visits could go where."""
    days, longest = [on for on, _ in pools], [(pool, max(own, default=0)) for pool, own in pools.items()]
    for sort, each in asked.items():
        for pool, room in longest[bisect_left(days, each.first) : bisect_right(days, each.last)]:
            if room >= each.slots and (not pool[1] or each.kinds <= pool[1]):
                yield sort, pool


def _shares(stretches: tuple[int, ...], apart: bool) -> list[tuple[int, ...]]:
    return [(each,) for each in stretches] if apart else [stretches]


def _cost(asked: Mapping[Sort, Asked], pairs: Sequence[tuple[Sort, Pool]], columns: int) -> Floats:
    """Who has to be seen last is dearest to place, then the later day, then who is only expected; whoever is worth
    nothing is placed all the same, where there is room."""
    first = min((on for _, (on, _) in pairs), default=date.min)
    cost = np.zeros(columns)
    for at, (sort, (on, _)) in enumerate(pairs):
        own = asked[sort]
        cost[at] = (own.last - first).days * 256 + (on - first).days * 2 + own.expected - LATER * (not own.worth)
    return cost


def _program(
    asked: Mapping[Sort, Asked], pairs: Sequence[tuple[Sort, Pool]], pools: Mapping[Pool, Sequence[tuple[int, ...]]]
) -> _Program:
    matrix = Matrix((("sort", sort) for sort in asked), 0)
    matrix.limits[:] = [each.number for each in asked.values()]
    lengths: dict[Pool, set[int]] = defaultdict(set)
    most: list[int] = []
    for sort, pool in pairs:
        slots = asked[sort].slots
        matrix.column([(("sort", sort), 1, 0), (("seen", pool, slots), 1, 0)])
        most.append(asked[sort].number)
        lengths[pool].add(slots)
    for pool, held in pools.items():
        for share, stretches in enumerate(held):
            for slots in sorted(lengths[pool]):
                matrix.column(_given(pool, share, stretches, slots))
                most.append(sum(each // slots for each in stretches))
    worth = np.full(len(most), -1)
    worth[: len(pairs)] = [asked[sort].worth for sort, _ in pairs]
    *tiers, later = [(worth == each).astype(float) for each in _worths(asked)]
    lower = np.full(len(matrix.limits), -np.inf)
    return _Program(
        matrix.columns, len(pairs), tiers, later, np.array(most, float), lower, np.array(matrix.limits, float)
    )


def _given(pool: Pool, share: int, stretches: Sequence[int], slots: int) -> Iterator[Entry]:
    yield ("seen", pool, slots), -1, 0
    for weight in WEIGHTS[slots]:
        yield ("room", pool, share, weight), weight[slots - 1], sum(most_in(each, weight) for each in stretches)


def _too_full(
    asked: Mapping[Sort, Asked], found: Mapping[tuple[Sort, Pool], int], pools: Mapping[Pool, tuple[int, ...]]
) -> set[Pool]:
    """The pools whose visits do not go into their stretches, or are too many to be sure of it."""
    visits: dict[Pool, Counter[int]] = defaultdict(Counter)
    for (sort, pool), number in found.items():
        visits[pool][asked[sort].slots] += number
    return {pool for pool, own in visits.items() if not _goes_in(own, pools[pool])}


def _goes_in(visits: Counter[int], stretches: Sequence[int]) -> bool:
    """Whether visits of so many slots go into stretches: long ones first, each where it leaves least; else by trying
    every way."""
    order = sorted(visits.elements(), reverse=True)
    if _best_fit(order, list(stretches)):
        return True
    return len(order) <= TRIED and _any_way(tuple(order), tuple(sorted(stretches)))


def _best_fit(order: Sequence[int], left: list[int]) -> bool:
    for slots in order:
        at = min((n for n, room in enumerate(left) if room >= slots), key=lambda n: left[n], default=None)
        if at is None:
            return False
        left[at] -= slots
    return True


@lru_cache(maxsize=10_000)
def _any_way(order: tuple[int, ...], left: tuple[int, ...]) -> bool:
    if not order:
        return True
    return any(
        _any_way(order[1:], tuple(sorted((*left[:at], room - order[0], *left[at + 1 :]))))
        for at, room in enumerate(left)
        if room >= order[0] and room not in left[:at]
    )
