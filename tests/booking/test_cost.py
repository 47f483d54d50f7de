"""What a place costs: nearness to the target, on a tie the later day, then the own therapist, then few gaps."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as some

from caseload.booking.cost import DAY_AWAY, EARLY_FACTOR, GAP, OTHER_THERAPIST, TIE, Cost, cost_of, cost_of_session
from tests.booking.builders import NINE, OTHER, OWN, need, opening

DAYS = range(-2, 60)


def test_a_place_on_the_target_day_with_the_own_therapist_and_no_gap_costs_nothing() -> None:
    assert cost_of(need(), opening(free=(NINE,)), NINE) == Cost(0, 0, 0, 0)


def test_each_weight_is_more_than_all_below_it_together() -> None:
    assert GAP * 2 < OTHER_THERAPIST and OTHER_THERAPIST + GAP * 2 < TIE
    assert TIE + OTHER_THERAPIST + GAP * 2 < DAY_AWAY


def test_what_a_session_costs_is_what_its_starts_share() -> None:
    place, session = opening(-1, therapist=OTHER), need()
    assert cost_of_session(session, place) == cost_of(session, place, NINE)._replace(gaps=0)


@pytest.mark.parametrize(("on", "days"), [(0, 0), (-2, 2), (2, 2), (5, 5), (-3, 3 * EARLY_FACTOR)])
def test_before_the_window_each_day_counts_fourfold(on: int, days: int) -> None:
    assert cost_of(need(), opening(on), NINE).distance == days * DAY_AWAY


def test_how_much_earlier_days_count_is_a_setting() -> None:
    assert cost_of(need(), opening(-3), NINE, early_factor=7).distance == 21 * DAY_AWAY


def test_of_two_days_as_near_the_later_is_cheaper() -> None:
    assert cost_of(need(), opening(1), NINE).total < cost_of(need(), opening(-1), NINE).total


def test_any_therapist_will_do_where_the_patient_has_none() -> None:
    assert cost_of(need(therapist=None), opening(therapist=OTHER), NINE).therapist == 0
    assert cost_of(need(), opening(therapist=OTHER), NINE).therapist == OTHER_THERAPIST


@pytest.mark.parametrize(
    ("start", "minutes", "gaps"), [(540, 20, 1), (560, 20, 2), (600, 20, 1), (560, 40, 2), (540, 80, 0)]
)
def test_each_free_slot_right_beside_a_visit_costs(start: int, minutes: int, gaps: int) -> None:
    place = cost_of(need(minutes=min(minutes, 60), interpreter=minutes == 80), opening(end=NINE + 80), start)
    assert place.gaps == gaps * GAP


def test_places_are_ordered_by_each_reason_in_turn() -> None:
    free = {0: (540,), 1: (540, 560), 2: (540, 560, 580)}
    places = product(DAYS, (OWN, OTHER), free)
    by_reasons = sorted(places, key=lambda place: (abs(place[0]), place[0] < 0, place[1] != OWN, place[2]))
    totals = [
        cost_of(need(), opening(on, therapist=who, free=free[gaps]), 560 if gaps == 2 else 540).total
        for on, who, gaps in by_reasons
    ]
    assert totals == sorted(totals) and len(set(totals)) == len(totals)


@given(some.integers(0, 90), some.integers(0, 90))
def test_further_from_the_target_is_never_cheaper(one: int, more: int) -> None:
    near, far = (cost_of(need(), opening(days), NINE).total for days in (one, one + more))
    assert near <= far
