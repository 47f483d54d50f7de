"""The filling of random weeks, against two general solvers on the plain formulation, side by side in one run.

    python -m tests.benchmarks.filling [WISHES] [SECONDS] [SEEDS]

WISHES is 30, 300 or 2000 (with 200, 2,000 and 10,000 slots), else all three; SECONDS is the limit of each solver, 60
unless said; the first week of each load is drawn, or as many as SEEDS says. `10000` fills 50,000 slots by ours alone.
A general solver that does not keep the limit, as the linear program of scipy.milp does not, is stopped at twice it.

Of the slots so many are free, by chance, that the demand is 70, 85 or 95 in a hundred of them, so stretches are short.
Half of the wishes are stitches (day -1 to +3), half reviews (-3 to +7), of one, two or three slots (60, 30, 10 in a
hundred); each has a therapist of its own.

Plain: one 0/1 column for each wish and start, a row for each wish and for each slot. Both are given what ours proves
can be placed, in two rows, so that nobody has to weigh a missing place against points: they only look for the least
cost. OR-tools is not among the tools for development: `pip install --require-hashes -r requirements-benchmarks.txt`.
"""

import importlib.util
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import product
from random import Random
from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from caseload.booking.cost import cost_of_session
from caseload.booking.fill import Horizon, Plan, Wish, fill
from caseload.booking.needs import URGENT, Need
from caseload.booking.offers import Now
from caseload.booking.openings import Opening, starts
from caseload.booking.slots import SLOT, slots_for
from caseload.timetable.terms import FollowUpKind, Way
from tests.benchmarks import table
from tests.benchmarks.stopped import within

MONDAY: Final = date(2026, 3, 2)
NOW: Final = Now(MONDAY - timedelta(days=1), -1)
SLOTS: Final = {30: 200, 300: 2_000, 2_000: 10_000, 10_000: 50_000}
LOADS: Final = (0.7, 0.85, 0.95)
PER_SESSION: Final = 10
STITCHES, REVIEW = frozenset({FollowUpKind.STITCHES_OUT}), frozenset({FollowUpKind.THERAPY_REVIEW})


class Goal(NamedTuple):
    """Seconds to a plan that is proven, or proven to be no further than a share from the best."""

    seconds: float
    gap: float = 0.0

    def __str__(self) -> str:
        return f"≤ {self.seconds:g} s, " + (f"within {self.gap:.1%}" if self.gap else "proven")


GOALS: Final = {30: Goal(0.1), 300: Goal(10), 2_000: Goal(60), 10_000: Goal(420, 0.025)}
STEP: Final = 4
"""Costs without gaps are multiples of so many points."""


class Weeks(NamedTuple):
    wishes: list[Wish]
    openings: list[Opening]


class Found(NamedTuple):
    """What a solver says: how many are placed, at what cost, no less than what, after how many seconds; ours also
    proves that no more can be placed."""

    placed: int
    cost: float
    bound: float
    seconds: float
    most: bool = True

    @property
    def proven(self) -> bool:
        return self.most and self.cost - self.bound < STEP


class Plain(NamedTuple):
    """Columns of the plain formulation: wish, slots by number, points."""

    wish: list[int]
    slots: list[list[int]]
    cost: list[int]


def weeks(count: int, load: float, seed: int = 1) -> Weeks:
    chance = Random(seed)
    days = 25 if count > 100 else 10
    lengths = chance.choices((1, 2, 3), (6, 3, 1), k=count)
    share = sum(lengths) / load / SLOTS[count]
    therapists = max(2, SLOTS[count] // PER_SESSION // days)
    openings = [_session(chance, n, n // therapists, n % therapists, share) for n in range(therapists * days)]
    return Weeks([_wish(chance, n, lengths[n], days, therapists) for n in range(count)], openings)


def _session(chance: Random, number: int, day: int, therapist: int, share: float) -> Opening:
    free = tuple(540 + SLOT * n for n in range(PER_SESSION) if chance.random() < share)
    on = MONDAY + timedelta(days=day)
    end = 540 + SLOT * PER_SESSION
    return Opening(number, f"{number}", on, 1, therapist, 540, end, frozenset(), frozenset(Way), free)


def _wish(chance: Random, number: int, slots: int, days: int, therapists: int) -> Wish:
    target, urgent = chance.randrange(days), chance.random() < 0.5
    before, after = (1, 3) if urgent else (3, 7)
    earliest, on, latest = (MONDAY + timedelta(days=each) for each in (target - before, target, target + after))
    kinds, own = STITCHES if urgent else REVIEW, chance.randrange(therapists)
    return Wish(number, Need((f"{number}",), kinds, earliest, on, latest, slots * SLOT, True, False, 1, own))


def ours(asked: Weeks, limit: float) -> tuple[Found, Plan]:
    began = time.perf_counter()
    open_days = {1: sorted({each.on for each in asked.openings})}
    plan = fill(asked.wishes, asked.openings, Horizon(NOW, open_days), limit)
    most = plan.could_place == plan.follow_ups
    return Found(len(plan.placed), plan.cost, plan.bound, time.perf_counter() - began, most), plan


def plain(asked: Weeks) -> Plain:
    number = {place: at for at, place in enumerate((o.session, slot) for o in asked.openings for slot in o.free)}
    by_day: dict[date, list[Opening]] = defaultdict(list)
    for opening in asked.openings:
        by_day[opening.on].append(opening)
    found = Plain([], [], [])
    for at, wish in enumerate(asked.wishes):
        for opening, start in _starts(wish.need, by_day):
            found.wish.append(at)
            found.slots.append([number[opening.session, slot] for slot in slots_for(start, wish.need.minutes)])
            found.cost.append(cost_of_session(wish.need, opening).total)
    return found


def _starts(need: Need, by_day: dict[date, list[Opening]]) -> Iterator[tuple[Opening, int]]:
    for days in range((need.latest - need.earliest).days + 1):
        for opening in by_day.get(need.earliest + timedelta(days=days), ()):
            for start in starts(opening, need.minutes):
                yield opening, start


def _placed(plan: Plan) -> tuple[int, int]:
    """Stitches and reviews."""
    urgent = sum(bool(each.wish.need.kinds & URGENT) for each in plan.placed)
    return urgent, len(plan.placed) - urgent


def by_milp(asked: Weeks, columns: Plain, known: tuple[int, int], limit: float) -> Found:
    began = time.perf_counter()
    wishes, count = len(asked.wishes), len(columns.wish)
    urgent = np.array([bool(asked.wishes[at].need.kinds & URGENT) for at in columns.wish])
    rows = [*columns.wish, *(wishes + slot for own in columns.slots for slot in own)]
    where = [*range(count), *(at for at, own in enumerate(columns.slots) for _ in own)]
    once = csr_array((np.ones(len(rows)), (rows, where)), shape=(max(rows) + 1, count))
    placed = csr_array(np.vstack([urgent, ~urgent]).astype(float))
    answer = milp(
        np.array(columns.cost, float), integrality=np.ones(count), bounds=Bounds(0, 1),
        constraints=[LinearConstraint(once, ub=1), LinearConstraint(placed, lb=known)],
        options={"time_limit": limit, "mip_rel_gap": 0.0},
    )  # fmt: skip
    bound = answer.mip_dual_bound if answer.mip_dual_bound is not None else 0.0
    found = answer.x is not None
    return Found(round(answer.x.sum()) if found else 0, answer.fun if found else np.inf, bound,
                 time.perf_counter() - began)  # fmt: skip


def by_cp_sat(asked: Weeks, columns: Plain, known: tuple[int, int], limit: float) -> Found:
    from ortools.sat.python import cp_model

    began = time.perf_counter()
    model = cp_model.CpModel()
    chosen = [model.new_bool_var("") for _ in columns.wish]
    rows: dict[tuple[str, int], list[object]] = defaultdict(list)
    for at, variable in enumerate(chosen):
        rows["wish", columns.wish[at]].append(variable)
        for slot in columns.slots[at]:
            rows["slot", slot].append(variable)
    for own in rows.values():
        model.add_at_most_one(own)
    urgent = [bool(asked.wishes[at].need.kinds & URGENT) for at in columns.wish]
    for wanted, least in zip((True, False), known, strict=True):
        model.add(sum(v for v, of in zip(chosen, urgent, strict=True) if of is wanted) >= least)
    model.minimize(sum(cost * variable for cost, variable in zip(columns.cost, chosen, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds, solver.parameters.num_workers = limit, 2
    found = solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    placed = sum(solver.value(variable) for variable in chosen) if found else 0
    cost = solver.objective_value if found else np.inf
    return Found(placed, cost, solver.best_objective_bound, time.perf_counter() - began)


def row(count: int, load: float, name: str, found: Found, first: Found) -> str:
    gap = "proven" if found.proven else f"≥ {found.bound:,.0f}" if np.isfinite(found.cost) else "no plan"
    times = f"{found.seconds / first.seconds:,.1f}"
    cost = f"{found.cost:,.0f}" if np.isfinite(found.cost) else "–"
    told = (f"{count:,}", load, name, f"{found.placed:,}", cost, gap, f"{found.seconds:,.2f}", times)
    goal = GOALS[count]
    good = found.seconds <= goal.seconds and found.most and found.cost - found.bound < max(STEP, goal.gap * found.cost)
    return table.line(*told, *(("", "") if found is not first else (goal, table.met(good))))


def main(counts: Sequence[int], limit: float, seeds: int) -> None:
    print(table.head("Wishes", "Load", "By", "Placed", "Points", "Proof", "Seconds", "Times ours", "Goal", "Met"))
    solvers = {"scipy.milp": by_milp}
    if importlib.util.find_spec("ortools"):
        solvers["OR-tools CP-SAT, 2 workers"] = by_cp_sat
    for count, load, seed in product(counts, LOADS, range(1, seeds + 1)):
        asked = weeks(count, load, seed)
        first, plan = ours(asked, limit if count <= 2_000 else 400.0)
        print(row(count, load, "ours", first, first), flush=True)
        if count <= 2_000:
            columns = plain(asked)
            for name, solver in solvers.items():
                found = within(limit, solver, asked, columns, _placed(plan)) or Found(0, np.inf, 0, 2 * limit)
                print(row(count, load, name, found, first), flush=True)
                assert found.cost > first.cost - STEP / 2, "a general solver has found something better"
                assert found.bound < first.cost + STEP / 2


if __name__ == "__main__":
    wanted = [int(sys.argv[1])] if len(sys.argv) > 1 else [30, 300, 2_000]
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    main(wanted, seconds, int(sys.argv[3]) if len(sys.argv) > 3 else 1)
