"""The stages of filling: as many as can be, by urgency; then the least cost; and what proves it.

1. Everybody is asked for at the least cost: mostly there is room for all, and this is the end.
2. Else as much as can be is placed, then the same is placed at the least cost.
3. The answer is laid out. A pool in which it does not fit is seen stretch by stretch, as exactly as it is, and all is
   done again: each round is a bound for every plan, and the last one is a plan.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from math import ceil
from typing import NamedTuple

import numpy as np

from caseload.booking.filling.first import one_by_one
from caseload.booking.filling.layout import Seated, Visit, lay_out, seat_some
from caseload.booking.filling.model import Column, Model, Program
from caseload.booking.filling.pools import Pool, length
from caseload.booking.filling.terms import Wish
from caseload.booking.solver import Answer, Columns, Floats, solve

STEP = 4
"""Costs without gaps are multiples of so many points."""
NEAR = STEP / 2


class Best(NamedTuple):
    """Places of wishes; no plan that places as much costs less than `bound`. `most`: nothing more can be placed."""

    seated: tuple[Seated, ...]
    bound: int
    most: bool


@dataclass
class _Budget:
    """Seconds that are left, as the solver counts them."""

    left: float

    def solve(self, *program: Floats | Columns, share: float = 1.0, **options: object) -> Answer:
        answer: Answer = solve(*program, limit=max(0.0, self.left * share), **options)  # type: ignore[arg-type]
        self.left -= answer.seconds
        return answer


@dataclass
class _Chosen:
    """Columns that an answer takes, with what it proves."""

    columns: list[Column] = field(default_factory=list)
    bound: int = 0
    most: bool = True


def best_plan(wishes: Sequence[Wish], pools: Sequence[Pool], today: date, limit: float) -> Best:
    """The best places for wishes in their canonical order, within so many seconds of solving."""
    return best_of(Model(wishes, pools, today), limit)


def best_of(model: Model, limit: float) -> Best:
    """The same of a model; its costs are multiples of `STEP`."""
    budget = _Budget(limit)
    while True:
        chosen = _chosen(model, budget)
        seated, failed = _laid_out(model, chosen.columns)
        if not failed:
            return Best(tuple(seated), chosen.bound, chosen.most)
        if budget.left <= 0:
            return Best(tuple(seated + _some(model, failed)), 0, False)  # the bound was for more than this
        model = model.taken_apart(failed)


def _chosen(model: Model, budget: _Budget) -> _Chosen:
    program = model.program
    everybody = _everybody(program, budget)
    if everybody.proven:
        return _taken(model, everybody, most=True)
    if len(everybody.values):
        return _taken(model, _least_cost(program, everybody.values, budget, everybody.bound), most=True)
    start = one_by_one(model)
    most = budget.solve(-program.worth, program.most, program.columns, program.lower, program.upper,
                        share=0.5, start=start)  # fmt: skip
    known = most.values if len(most.values) else start
    return _taken(model, _least_cost(program, known, budget), most=most.proven)


def _everybody(program: Program, budget: _Budget) -> Answer:
    """Every follow-up that has a place to go to is placed, at the least cost; no answer where there is not room."""
    able = np.zeros(len(program.lower), bool)
    able[program.columns.rows] = True
    lower = program.lower.copy()
    lower[: program.names][able[: program.names]] = 1
    return budget.solve(program.cost, program.most, program.columns, lower, program.upper,
                        share=0.4, near=NEAR)  # fmt: skip


def _least_cost(program: Program, known: Floats, budget: _Budget, bound: float = 0.0) -> Answer:
    """The least cost of all answers that place as much as `known`, in one more row; `known` itself if time is up."""
    columns = program.columns.with_row(program.worth)
    placed = float(program.worth @ known)
    least = budget.solve(
        program.cost, program.most, columns, np.append(program.lower, placed),
        np.append(program.upper, np.inf), near=NEAR, start=known,
    )  # fmt: skip
    values = least.values if len(least.values) else known
    return least._replace(values=values, bound=max(bound, least.bound))


def _taken(model: Model, answer: Answer, *, most: bool) -> _Chosen:
    bound = STEP * ceil((answer.bound - NEAR) / STEP) if np.isfinite(answer.bound) else 0
    return _Chosen(
        [model.columns[at] for at in np.flatnonzero(answer.values[: len(model.columns)] > 0.5)], max(0, bound), most
    )


def _laid_out(model: Model, columns: Sequence[Column]) -> tuple[list[Seated], dict[int, list[Visit]]]:
    """Who has a place; and the pools in which there is none for everybody, with their visits."""
    visits: dict[int, list[Visit]] = defaultdict(list)
    for each in columns:
        need = model.wishes[each.wish].need
        visits[each.pool].append(Visit(each.wish, length(need), need.therapist if each.own else None))
    seated: list[Seated] = []
    failed: dict[int, list[Visit]] = {}
    for at, own in visits.items():
        laid = lay_out(model.pools[at], own)
        if laid is None:
            failed[at] = own
        else:
            seated += laid
    return seated, failed


def _some(model: Model, failed: dict[int, list[Visit]]) -> list[Seated]:
    return [each for at, visits in failed.items() for each in seat_some(model.pools[at], visits)]
