"""The filling against the published: the assignment rows of the table of checks, and worked days 2 and 4.

B01 and its neighbours: textbook assignment problems (from memory), computed anew with scipy.optimize
(linear_sum_assignment: Crouse, IEEE Trans Aerosp Electron Syst 2016; 52: 1679). Worked days: rule set "two-week",
England and Wales, Monday to Friday (common practice, computed).
"""

from datetime import date, timedelta
from itertools import permutations

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from caseload.booking.fill import Horizon, Wish, fill
from caseload.booking.filling.model import Model
from caseload.booking.filling.pools import pools_of
from caseload.booking.filling.stages import STEP, best_of
from caseload.booking.needs import Asked, one_visit
from caseload.booking.offers import Now
from tests.booking.builders import NINE, SITE, opening
from tests.timetable.builders import ENGLAND, day, episode, plan, the

FIRST = date(2026, 3, 2)


def least(costs: list[list[int]]) -> int:
    """The least cost of giving each row a column of its own, as the stages of the filling find it."""
    days = [FIRST + timedelta(days=n) for n in range(len(costs))]
    asked = Asked("s", "stitches-out", days[0], days[0], days[-1], 20, True, False)
    need = one_visit([asked], site=SITE, therapist=None, interpreter=False)
    wishes = [Wish(n, need._replace(names=(f"{n}",))) for n in range(len(costs))]
    rooms = [opening(session=n, free=(NINE,))._replace(on=on) for n, on in enumerate(days)]
    model = Model(wishes, pools_of(rooms, Now(FIRST, -1)), FIRST)
    model.columns = [each._replace(cost=STEP * costs[each.wish][each.pool]) for each in model.columns]
    best = best_of(model, 60.0)
    places = {each.wish: (each.stretch.opening.on - FIRST).days for each in best.seated}
    assert sorted(places.values()) == sorted(places) == list(range(len(costs))) and best.most
    total = sum(costs[wish][place] for wish, place in places.items())
    assert best.bound == STEP * total
    return total


def one_row_after_the_other(costs: list[list[int]]) -> int:
    free, total = set(range(len(costs))), 0
    for row in costs:
        chosen = min(free, key=lambda column: row[column])
        free.remove(chosen)
        total += row[chosen]
    return total


B01 = [[90, 75, 75, 80], [35, 85, 55, 65], [125, 95, 90, 105], [45, 110, 95, 115]]


@pytest.mark.parametrize(
    ("costs", "total"),
    [
        ([[4, 1, 3], [2, 0, 5], [3, 2, 2]], 5),
        ([[82, 83, 69, 92], [77, 37, 49, 92], [11, 69, 5, 86], [8, 9, 98, 23]], 140),
        (B01, 275),
    ],
)
def test_b01_each_row_gets_a_column_of_its_own_at_the_least_cost(costs: list[list[int]], total: int) -> None:
    assert least(costs) == total


def test_b01_the_cheapest_row_by_row_costs_more() -> None:
    assert one_row_after_the_other(B01) == 315


@pytest.mark.parametrize("seed", range(10))
def test_assignments_at_random_cost_what_a_general_library_says(seed: int) -> None:
    costs = np.random.default_rng(seed).integers(0, 100, (8, 8))
    rows, columns = linear_sum_assignment(costs)
    assert least(costs.tolist()) == costs[rows, columns].sum()


def wish(patient: int, surgery_on: str) -> Wish:
    follow_up = the(plan(episode(day(surgery_on))), "stitches-out")
    window = follow_up.earliest_on, follow_up.target_on, follow_up.latest_on
    asked = Asked(f"{patient}", follow_up.kind, *window, follow_up.minutes, True, False)
    return Wish(patient, one_visit([asked], site=SITE, therapist=None, interpreter=False))


def filled(wishes: list[Wish], *days: str) -> dict[int, date]:
    rooms = [opening(session=n, free=(NINE,))._replace(on=day(on)) for n, on in enumerate(days)]
    now = Now(day(days[0]) - timedelta(days=5), -1)
    open_days = {SITE: ENGLAND.open_days(now.today, day(days[-1]))}
    return {each.wish.patient: each.offer.on for each in fill(wishes, rooms, Horizon(now, open_days)).placed}


def test_2_timetable_and_fill_both_propose_the_friday_and_not_the_monday() -> None:
    friday = day("2026-10-23")
    assert the(plan(episode(day("2026-10-10"))), "stitches-out").proposed_on == friday
    assert filled([wish(1, "2026-10-10")], "2026-10-22", "2026-10-23", "2026-10-26") == {1: friday}


@pytest.mark.parametrize("order", list(permutations((22, 23, 24))))
def test_4_one_place_each_on_three_days_is_filled_in_order_of_surgery(order: tuple[int, ...]) -> None:
    wishes = [wish(number, f"2026-03-{number}") for number in order]
    found = filled(wishes, "2026-04-07", "2026-04-08", "2026-04-09")
    assert found == {22: day("2026-04-07"), 23: day("2026-04-08"), 24: day("2026-04-09")}
