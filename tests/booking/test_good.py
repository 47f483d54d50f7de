"""What keeps an appointment from being a good one (common practice)."""

from typing import Any

import pytest

from caseload.booking.good import Booked, Fault, faults
from caseload.timetable.terms import Way
from tests.booking.builders import ELSEWHERE, SITE, asked, off


def found(*several: Any, interpreter: bool = False, **said: Any) -> tuple[Fault, ...]:
    known = {
        "on": off(0),
        "minutes": 20,
        "site": SITE,
        "way": Way.IN_PERSON,
        "approved": False,
        "interpreter_told": None,
    }
    return faults(several or [asked()], Booked(**(known | said)), site=SITE, interpreter=interpreter)


@pytest.mark.parametrize("on", [-2, 0, 2])
def test_an_appointment_inside_the_window_is_good(on: int) -> None:
    assert found(on=off(on)) == ()


@pytest.mark.parametrize(("on", "approved"), [(-3, False), (3, False), (3, True)])
def test_a_day_outside_the_window_is_a_fault(on: int, approved: bool) -> None:
    assert found(on=off(on), approved=approved) == (Fault.OUTSIDE_WINDOW,)


def test_an_early_day_that_a_clinician_approved_is_none() -> None:
    assert found(on=off(-3), approved=True) == ()


@pytest.mark.parametrize("on", [-9, 9])
def test_a_provisional_follow_up_is_never_outside(on: int) -> None:
    assert found(asked(provisional=True), on=off(on)) == ()


def test_every_follow_up_served_must_be_inside() -> None:
    assert found(asked(), asked(5, 6, 7), minutes=40) == (Fault.OUTSIDE_WINDOW,)


@pytest.mark.parametrize(("minutes", "is_good"), [(39, False), (40, True), (60, True)])
def test_an_appointment_is_as_long_as_what_it_serves(minutes: int, is_good: bool) -> None:
    assert (found(asked(), asked(), minutes=minutes) == ()) is is_good


def test_an_interpreter_needs_time() -> None:
    assert found(interpreter=True, interpreter_told=False) == (Fault.TOO_SHORT,)
    assert found(interpreter=True, interpreter_told=False, minutes=40) == ()


def test_a_telephone_visit_is_good_only_for_what_need_not_be_seen() -> None:
    assert found(way=Way.TELEPHONE) == (Fault.NEEDS_IN_PERSON,)
    assert found(asked(in_person=False), way=Way.TELEPHONE) == ()


def test_all_that_is_amiss_is_named() -> None:
    assert found(on=off(3), minutes=10, site=ELSEWHERE, way=Way.VIDEO) == tuple(Fault)
