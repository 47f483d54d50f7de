"""Need against room, against every way to place the visits, on small weeks at random."""

from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from random import Random

import pytest

from caseload.booking import room_program
from caseload.booking.needs import URGENT
from caseload.booking.room import Fit, Room, Visit, best_of, fit, one_more
from caseload.timetable.terms import FollowUpKind as Kind

CASES = 400
MONDAY = date(2026, 4, 13)
KINDS = (frozenset({Kind.STITCHES_OUT}), frozenset({Kind.OUTCOME_REVIEW}), frozenset({Kind.SET_REVIEW}))
TAKES = (frozenset(), frozenset(), frozenset({Kind.OUTCOME_REVIEW, Kind.SET_REVIEW}), KINDS[0])


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def case(seed: int) -> tuple[list[Visit], list[Room]]:
    random = Random(seed)
    visits = []
    for _ in range(random.randint(2, 7)):
        first = random.randint(0, 3)
        slots = random.choice((1, 1, 2, 2, 3, 4))
        visits.append(Visit(random.choice(KINDS), day(first), day(first + random.randint(0, 3)), slots, 1))
    rooms = [
        Room(day(on), 1, random.choice(TAKES), sum(runs), runs)
        for on in range(4)
        for runs in [tuple(random.randint(1, 4) for _ in range(random.randint(0, 2)))]
    ]
    return visits, rooms


def most_of(visits: Sequence[Visit], rooms: Sequence[Room]) -> tuple[int, int]:
    """How many urgent visits, and how many others beside them, by every way there is."""
    stretches = [(room, run) for room in rooms for run in room.runs]

    @cache
    def best(at: int, left: tuple[int, ...]) -> tuple[int, int]:
        if at == len(visits):
            return 0, 0
        visit, found = visits[at], best(at + 1, left)
        for place, (room, _) in enumerate(stretches):
            inside = visit.first <= room.on <= visit.last and (not room.takes or visit.kinds <= room.takes)
            if inside and left[place] >= visit.slots:
                less = (*left[:place], left[place] - visit.slots, *left[place + 1 :])
                urgent, others = best(at + 1, less)
                more = bool(visit.kinds & URGENT)
                found = max(found, (urgent + more, others + (not more)))
        return found

    return best(0, tuple(run for _, run in stretches))


def placed(found: Fit) -> tuple[int, int]:
    urgent = sum(each.number for each in found.placed if each.visit.kinds & URGENT)
    return urgent, sum(each.number for each in found.placed) - urgent


@pytest.mark.parametrize("rounds", [0, room_program.ROUNDS])
def test_nobody_places_more(monkeypatch, rounds):
    """By sharpening, and by whole numbers alone."""
    monkeypatch.setattr(room_program, "ROUNDS", rounds)
    for seed in range(CASES):
        visits, rooms = case(seed)
        found = fit(visits, rooms)
        assert found.proven and placed(found) == most_of(visits, rooms), seed


def test_one_more_session_places_exactly_as_many_more():
    for seed in range(CASES):
        visits, rooms = case(seed)
        random, before = Random(-seed), fit(visits, rooms)
        extra = Room(day(random.randint(0, 6)), 1, random.choice(TAKES), random.randint(1, 6))
        gain = one_more(visits, rooms, extra, before)
        most = sum(most_of(visits, [*rooms, extra]))
        assert gain.more == most - sum(most_of(visits, rooms)) and gain.missing == len(visits) - most, seed
        best = best_of(visits, rooms, [extra], before)
        assert [(each.more, each.missing) for each in best] == [(gain.more, gain.missing)] * bool(best), seed
