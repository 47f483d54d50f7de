"""Most visits into what is free, as a small integer program: how many of each sort go into each pool.

The pools are those of one site: a day, and the kinds that sessions of it take. A pool gives places for each length of
visit, as many as its stretches hold in each of the ways of `filling.room`. Where an answer does not go into the
stretches of a pool after all, that pool is seen stretch by stretch.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import lru_cache
from math import floor
from typing import Final, Generic, NamedTuple

import numpy as np

from caseload.booking.filling.matrix import Entry, Matrix
from caseload.booking.filling.room import WEIGHTS, most_in
from caseload.booking.room_days import Asked, Pool, Sort, day_by_day
from caseload.booking.solver import Columns, Floats, solve

LIMIT: Final = 0.5
"""Seconds, since somebody waits for the page."""
MOST: Final = 2_000
"""Of more ways to go somewhere than this the page is not made to wait for a proof."""
TRIED: Final = 30
"""Of more visits in one day than this it is not tried in every way whether they go into its stretches."""
ANY: Final = 1e12
"""A gap within which any answer is as good."""


class Found(NamedTuple, Generic[Sort]):
    """How many of each go where; `proven`: no more can be placed."""

    numbers: dict[tuple[Sort, Pool], int]
    proven: bool


class _Program(NamedTuple):
    columns: Columns
    worth: Floats
    most: Floats
    lower: Floats
    limits: Floats

    @property
    def tiers(self) -> list[float]:
        return sorted({float(worth) for worth in self.worth if worth}, reverse=True)

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


def place(asked: Mapping[Sort, Asked], pools: Mapping[Pool, tuple[int, ...]]) -> "Found[Sort]":
    """How many of each go where: the most by worth, and of these who has to be seen first, early.

    Day by day may be best already, as a linear program shows, which allows more than whole visits.
    """
    found = day_by_day(asked, pools)
    pairs = [(sort, pool) for sort, each in asked.items() for pool in pools if _suits(each, pool, pools[pool])]
    if len(pairs) > MOST:
        return Found(found, proven=False)
    program = _program(asked, pairs, {pool: _shares(pools[pool], False) for pool in pools})
    counted = [sum(number for (sort, _), number in found.items() if asked[sort].worth == worth)
               for worth in program.tiers]  # fmt: skip
    whole, most = _at_most(program)
    if counted >= most:
        return Found(found, proven=True)
    best = _by_program(asked, pairs, pools, program, whole)
    return Found(found, proven=False) if best is None else Found(best, proven=True)


def _at_most(program: _Program) -> tuple[_Program, list[int]]:
    """By linear programs, which allow parts of visits; and the program with a row for each, that it be as many."""
    counts = []
    for worth in program.tiers:
        of = (program.worth == worth).astype(float)
        answer = solve(-of, program.most, program.columns, program.lower, program.limits, whole=False)
        counts.append(floor(-answer.objective + 1e-6))
        program = program.with_at_least(of, counts[-1])
    return program, counts


def _by_program(
    asked: Mapping[Sort, Asked],
    pairs: Sequence[tuple[Sort, Pool]],
    pools: Mapping[Pool, tuple[int, ...]],
    program: _Program,
    whole: _Program,
) -> dict[tuple[Sort, Pool], int] | None:
    """None where time is up before there is an answer. `whole`: the program with as many as linear programs allow."""
    apart: set[Pool] = set()
    while True:
        found = _solved(asked, pairs, program, whole)
        failed = _too_full(asked, found, pools) - apart if found else set()
        if not failed:
            return found
        apart |= failed
        program = _program(asked, pairs, {pool: _shares(pools[pool], pool in apart) for pool in pools})
        whole = _at_most(program)[0]


def _suits(asked: Asked, pool: Pool, stretches: Sequence[int]) -> bool:
    on, takes = pool
    there = asked.first <= on <= asked.last and max(stretches, default=0) >= asked.slots
    return there and (not takes or asked.kinds <= takes)


def _shares(stretches: tuple[int, ...], apart: bool) -> list[tuple[int, ...]]:
    return [(each,) for each in stretches] if apart else [stretches]


def _solved(
    asked: Mapping[Sort, Asked], pairs: Sequence[tuple[Sort, Pool]], program: _Program, whole: _Program
) -> dict[tuple[Sort, Pool], int] | None:
    values = _rather(whole, asked, pairs) if pairs else np.zeros(0)
    values = values if len(values) else _tier_by_tier(program)
    if not len(values):
        return None
    return {pair: int(number) for pair, number in zip(pairs, values, strict=False) if number > 0.5}


def _rather(whole: _Program, asked: Mapping[Sort, Asked], pairs: Sequence[tuple[Sort, Pool]]) -> Floats:
    """As many as linear programs allow, whoever has to be seen first rather and early: whole numbers for those alone
    whom a linear program places so. Nothing where that does not come out."""
    first = min(on for _, (on, _) in pairs)
    cost = np.zeros(len(whole.most))
    cost[: len(pairs)] = [_cost(asked[sort], on, first) for sort, (on, _) in pairs]
    rather = solve(cost, whole.most, whole.columns, whole.lower, whole.limits, whole=False).values
    most = np.where(whole.worth > 0, np.minimum(whole.most, np.ceil(rather - 1e-9)), whole.most)
    return solve(cost, most, whole.columns, whole.lower, whole.limits, near=ANY, limit=LIMIT).values


def _tier_by_tier(program: _Program) -> Floats:
    """As many as can be in whole numbers, those worth more first. Nothing where time is up before that is proven."""
    values = np.zeros(0)
    for worth in program.tiers:
        of = (program.worth == worth).astype(float)
        answer = solve(-of, program.most, program.columns, program.lower, program.limits, limit=LIMIT)
        if not answer.proven:
            return np.zeros(0)
        values = answer.values
        program = program.with_at_least(of, round(-answer.objective))
    return values


def _cost(asked: Asked, on: date, first: date) -> int:
    """Who has to be seen last is dearest to place, then the later day, then who is only expected."""
    return (asked.last - first).days * 256 + (on - first).days * 2 + asked.expected


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
    worth = [asked[sort].worth for sort, _ in pairs] + [0] * (len(most) - len(pairs))
    lower = np.full(len(matrix.limits), -np.inf)
    return _Program(
        matrix.columns, np.array(worth, float), np.array(most, float), lower, np.array(matrix.limits, float)
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
