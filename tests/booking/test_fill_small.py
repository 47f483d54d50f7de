"""The filling against every plan there is, on small weeks at random."""

from random import Random

import pytest

from caseload.booking.openings import takes_all
from caseload.booking.slots import slots_for
from tests.booking.fill_cases import OPEN_DAYS, Case, best_of, case, value_of

CASES = 2_000


@pytest.mark.parametrize("tenth", range(10))
def test_no_plan_at_all_places_more_or_costs_less(tenth: int):
    for seed in range(tenth * CASES // 10, (tenth + 1) * CASES // 10):
        asked = case(seed)
        plan = asked.filled()
        assert value_of(plan, asked) == best_of(asked), seed
        assert plan.proven and plan.bound == plan.cost == -value_of(plan, asked).saved, seed
        _can_be_carried_out(plan, asked)


def _can_be_carried_out(plan, asked: Case) -> None:
    """Free slots of a session that takes it, each once; each follow-up once; a patient once a day; nobody forgotten."""
    free = {(each.session, slot) for each in asked.openings for slot in each.free}
    known = {each.session: each for each in asked.openings}
    days, names = set(), []
    for each in plan.placed:
        slots = {(each.offer.session, slot) for slot in slots_for(each.offer.start, each.wish.need.minutes)}
        assert slots <= free and takes_all(known[each.offer.session], each.wish.need, each.wish.way)
        free -= slots
        assert (each.wish.patient, each.offer.on) not in days and each.offer.on not in each.wish.not_on
        days.add((each.wish.patient, each.offer.on))
        names += each.wish.need.names
    without = [name for each in plan.unplaced for name in each.wish.need.names]
    assert sorted(names + without) == sorted({name for wish in asked.wishes for name in wish.need.names})
    for each in plan.unplaced:
        assert each.session_on is None or each.session_on in OPEN_DAYS[each.wish.need.site]


@pytest.mark.parametrize("seed", range(20))
def test_the_order_in_which_things_are_told_changes_nothing(seed: int):
    asked = case(seed)
    shuffled = [list(asked.wishes), list(asked.openings)]
    for each in shuffled:
        Random(seed).shuffle(each)
    assert Case(*map(tuple, shuffled)).filled() == asked.filled()
