"""A session as booking sees it: what it takes, and where a visit of some length can begin."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from caseload.booking.openings import starts, takes_all, without
from caseload.booking.slots import slots_for
from caseload.timetable.terms import FollowUpKind, Way
from tests.booking.builders import ELSEWHERE, NINE, asked, need, opening

BOTH = frozenset({FollowUpKind.STITCHES_OUT, FollowUpKind.OUTCOME_REVIEW})


@pytest.mark.parametrize(
    ("said", "takes"),
    [
        ({}, True),
        ({"takes": BOTH}, True),
        ({"takes": frozenset({FollowUpKind.OUTCOME_REVIEW})}, False),
        ({"ways": frozenset({Way.VIDEO})}, False),
        ({"site": ELSEWHERE}, False),
    ],
)
def test_a_session_takes_every_kind_of_the_need_at_its_site_in_its_way(said: dict[str, Any], takes: bool) -> None:
    both = need(asked(), asked(kind=FollowUpKind.OUTCOME_REVIEW))
    assert takes_all(opening(**said), both, Way.IN_PERSON) is takes


@pytest.mark.parametrize(("minutes", "found"), [(20, (540, 560, 620)), (30, (540,)), (40, (540,)), (60, ())])
def test_a_visit_begins_where_enough_slots_are_free_in_a_row(minutes: int, found: tuple[int, ...]) -> None:
    assert starts(opening(end=NINE + 120, free=(540, 560, 620)), minutes) == found


def test_slots_that_are_taken_are_gone() -> None:
    assert without(opening(end=NINE + 100), NINE + 20, 40).free == (540, 600, 620)


FREE = some.sets(some.sampled_from(range(NINE, NINE + 240, 20))).map(lambda slots: tuple(sorted(slots)))


@given(FREE, some.sampled_from([20, 40, 60, 80]))
def test_every_start_has_room_and_no_room_is_missed(free: tuple[int, ...], minutes: int) -> None:
    held = opening(end=NINE + 240, free=free)
    assert set(starts(held, minutes)) == {slot for slot in free if set(slots_for(slot, minutes)) <= set(free)}
