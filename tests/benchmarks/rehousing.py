"""Ten people of a lost day out of 1,500 in a full diary, others moving where it keeps a window.

    python -m tests.benchmarks.rehousing [SECONDS]

Five weeks of sessions of ten slots, 90, 95 or 99 in a hundred of the slots taken, by visits of one, two or three; on
the ninth day as many sessions fall away as it takes to lose ten appointments. Ours proves each aim after the one
before; beside it scipy.milp is given the same program all at once, with one objective in which an aim outweighs those
after it, for SECONDS (60 unless said; 0 leaves it out); its linear program does not keep the limit, so it is stopped at
twice as many.
"""

import sys
import time
from datetime import date, timedelta
from random import Random
from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csc_array

from caseload.booking.needs import Need
from caseload.booking.offers import Now
from caseload.booking.openings import Opening, without
from caseload.booking.rehouse import Kept, Lost, rehouse_moving
from caseload.booking.rehousing.places import COST, LATE, MOVED, OUTSIDE, diary_of
from caseload.booking.rehousing.program import Model
from caseload.booking.slots import SLOT
from caseload.timetable.terms import FollowUpKind, Way
from tests.benchmarks import table
from tests.benchmarks.stopped import within

MONDAY: Final = date(2026, 3, 2)
DAYS, PER_SESSION, LOST_ON = 25, 10, 8
APPOINTMENTS: Final = 1_500
LOST: Final = 10
GOAL: Final = 10
"""Seconds."""
TODAY: Final = MONDAY - timedelta(days=1)
KINDS: Final = (frozenset({FollowUpKind.STITCHES_OUT}), frozenset({FollowUpKind.THERAPY_REVIEW}))


class Case(NamedTuple):
    lost: list[Lost]
    kept: list[Kept]
    openings: list[Opening]


def case(full: float, seed: int) -> Case:
    chance = Random(seed)
    therapists = round(APPOINTMENTS * 1.5 / full / PER_SESSION / DAYS)
    openings: dict[int, Opening] = {}
    kept: list[Kept] = []
    for number in range(DAYS * therapists):
        openings[number], own = _session(chance, number, therapists, full, len(kept))
        kept += own
    gone: set[int] = set()
    lost: list[Lost] = []
    for number, opening in openings.items():
        if opening.on == MONDAY + timedelta(days=LOST_ON) and len(lost) < LOST:
            gone.add(number)
            lost += [Lost(each.appointment, each.need, each.way) for each in kept if each.session == number]
    staying = [each for each in kept if each.session not in gone]
    return Case(lost, staying, [each for number, each in openings.items() if number not in gone])


def _session(chance: Random, number: int, therapists: int, full: float, first: int) -> tuple[Opening, list[Kept]]:
    day, therapist = divmod(number, therapists)
    free = tuple(540 + SLOT * n for n in range(PER_SESSION))
    opening = Opening(number, f"{number}", MONDAY + timedelta(days=day), 1, therapist, 540, 540 + SLOT * PER_SESSION,
                      frozenset(), frozenset(Way), free)  # fmt: skip
    kept: list[Kept] = []
    at = 0
    while at < PER_SESSION:
        slots = min(chance.choices((1, 2, 3), (6, 3, 1))[0], PER_SESSION - at) if chance.random() < full else 0
        if slots:
            start, need = 540 + SLOT * at, _need(chance, day, slots, therapists)
            kept.append(Kept(first + len(kept), need, Way.IN_PERSON, number, start))
            opening = without(opening, start, need.minutes)
        at += slots or 1
    return opening, kept


def _need(chance: Random, day: int, slots: int, therapists: int) -> Need:
    """With a window that the day lies in."""
    urgent = chance.random() < 0.5
    before, after = (1, 3) if urgent else (3, 7)
    target = day + chance.randint(-after, before)
    earliest, on, latest = (MONDAY + timedelta(days=each) for each in (target - before, target, target + after))
    own = chance.randrange(therapists)
    return Need(("",), KINDS[not urgent], earliest, on, latest, slots * SLOT, True, False, 1, own)


def by_milp(asked: Case, limit: float) -> str:
    began = time.perf_counter()
    diary = diary_of(asked.lost, asked.kept, asked.openings, Now(TODAY, 0))
    model = Model(diary)
    columns, aims = model.columns, model.aims.astype(float)
    matrix = csc_array((columns.values, columns.rows, columns.starts), shape=(len(model.upper), aims.shape[1]))
    cost = 1e7 * aims[OUTSIDE] + 1e5 * aims[MOVED] + aims[LATE] + aims[COST]
    answer = milp(
        cost, integrality=np.ones(len(cost)), bounds=Bounds(0, 1),
        constraints=LinearConstraint(matrix, ub=model.upper),
        options={"time_limit": limit, "mip_rel_gap": 0.0},
    )  # fmt: skip
    seconds = time.perf_counter() - began
    if answer.x is None:
        return f"no answer in {seconds:.0f} s"
    moved = int(aims[MOVED, answer.x > 0.5].sum())
    return f"{seconds:.1f} s, {moved} moved, {'proven' if answer.status == 0 else 'not proven'}"


def main(limit: float) -> None:
    heads = ("Taken", "Seed", "Lost", "Others", "Moved", "Outside", "Seconds", "Proof", "scipy.milp", "Goal", "Met")
    print(table.head(*heads))
    for full in (0.9, 0.95, 0.99):
        for seed in (1, 2):
            asked = case(full, seed)
            began = time.perf_counter()
            found = rehouse_moving(asked.lost, asked.kept, asked.openings, today=TODAY, minute=0, limit=120.0)
            seconds = time.perf_counter() - began
            outside = sum(each.offer is None or each.offer.days_late > 0 for each in found.proposals)
            proof, other = "proven" if found.proven else "not proven", "–"
            if limit:
                other = within(limit, by_milp, asked) or f"no answer in {2 * limit:.0f} s"
            told = (f"{full:.0%}", seed, len(asked.lost), f"{len(asked.kept):,}", len(found.moves), outside)
            good = table.met(found.proven and seconds <= GOAL)
            print(table.line(*told, f"{seconds:.1f}", proof, other, f"≤ {GOAL} s, proven", good), flush=True)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
