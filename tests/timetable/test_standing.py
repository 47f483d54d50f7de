"""A follow-up on a date: the day before, on and after each limit; its booking; the safety alert."""

from datetime import date

import pytest

from caseload.timetable.facts import Appointment, Done
from caseload.timetable.standing import booking, days_late, is_planned, safety_alert, serves, status
from caseload.timetable.terms import Booking, Outcome, Status, Suture, WoundState
from tests.timetable.builders import (
    TEN_TO_FOURTEEN,
    after,
    booked,
    episode,
    order,
    out_and_closed,
    plan,
    stitches,
    the,
    wound,
)

D12, D14, D16, D17, D20, D30, D40 = (after(days) for days in (12, 14, 16, 17, 20, 30, 40))
MISSED, PATIENT_CANCELLED, CLINIC_CANCELLED = (
    Outcome.DID_NOT_ATTEND,
    Outcome.CANCELLED_BY_PATIENT,
    Outcome.CANCELLED_BY_CLINIC,
)


@pytest.mark.parametrize(
    ("kind", "limits"),
    [("stitches-out", (12, 16)), ("outcome-review", (35, 56)), ("close", (56, 90))],
)
def test_the_day_before_on_and_after_each_limit(kind: str, limits: tuple[int, int]) -> None:
    follow_up, (earliest, latest) = the(plan(episode()), kind), limits
    said = [status(follow_up, after(day)) for day in (earliest - 1, earliest, latest, latest + 1)]
    assert said == [Status.AHEAD, Status.OPEN, Status.OPEN, Status.LATE]
    late = [days_late(follow_up, after(day)) for day in (earliest - 1, latest, latest + 1, latest + 10)]
    assert late == [0, 0, 1, 10]


@pytest.mark.parametrize(("raised", "latest"), [(False, 16), (True, 21)])
def test_raised_risk_gives_stitches_five_days_more(raised: bool, latest: int) -> None:
    follow_up = the(plan(episode(raised_risk=raised)), "stitches-out")
    assert [status(follow_up, after(day)) for day in (latest, latest + 1)] == [Status.OPEN, Status.LATE]


def test_what_is_done_or_dropped_is_never_late() -> None:
    done = the(plan(episode(findings=out_and_closed(D30))), "stitches-out")
    assert status(done, D40) is Status.DONE and days_late(done, D40) == 0
    dropped = the(plan(episode(findings=(stitches(D14, 2, 2),))), "stitches-out")
    assert status(dropped, D40) is Status.NOT_NEEDED and days_late(dropped, D40) == 0


def how(*held: Appointment, today: date = D12, **facts: object) -> Booking:
    facts = episode(appointments=held, **facts)
    return booking(facts.appointments, the(plan(facts), "stitches-out"), today)


@pytest.mark.parametrize(
    ("day", "today", "expected"),
    [
        (11, 0, Booking.OUTSIDE),
        (12, 0, Booking.INSIDE),
        (16, 0, Booking.INSIDE),
        (17, 0, Booking.OUTSIDE),
        (14, 14, Booking.INSIDE),
        (14, 15, Booking.NO_OUTCOME),
        (17, 18, Booking.NO_OUTCOME),
    ],
)
def test_a_live_appointment_is_inside_outside_or_waits_for_its_outcome(day: int, today: int, expected: Booking) -> None:
    assert how(booked(after(day)), today=after(today)) is expected


def test_nothing_booked_is_none() -> None:
    assert how() is Booking.NONE and how(booked(D14, "outcome-review")) is Booking.NONE


@pytest.mark.parametrize(
    ("outcome", "expected"),
    [
        (MISSED, Booking.DID_NOT_ATTEND),
        (PATIENT_CANCELLED, Booking.NONE),
        (CLINIC_CANCELLED, Booking.NONE),
        (Outcome.ATTENDED, Booking.NONE),
    ],
)
def test_an_ended_appointment_is_no_booking(outcome: Outcome, expected: Booking) -> None:
    assert how(booked(D14, outcome=outcome), today=D30) is expected


def test_the_last_ended_appointment_counts() -> None:
    missed, cancelled = booked(D14, outcome=MISSED), booked(D16, outcome=PATIENT_CANCELLED)
    assert how(missed, cancelled) is how(cancelled, missed) is Booking.NONE
    assert how(booked(D12, outcome=PATIENT_CANCELLED), missed) is Booking.DID_NOT_ATTEND


def test_rebooked_after_not_attending_is_booked() -> None:
    assert how(booked(D14, outcome=MISSED), booked(D16)) is Booking.INSIDE


@pytest.mark.parametrize(("day", "expected"), [(D14, Booking.INSIDE), (D20, Booking.OUTSIDE)])
def test_done_at_an_attended_appointment_says_where_it_lay(day: date, expected: Booking) -> None:
    assert how(booked(day, outcome=Outcome.ATTENDED), findings=out_and_closed(day), today=D30) is expected


def test_done_after_not_attending_keeps_that() -> None:
    assert how(booked(D14, outcome=MISSED), findings=out_and_closed(D16)) is Booking.DID_NOT_ATTEND


def test_an_appointment_serves_by_key_or_by_kind_once_it_was_caused() -> None:
    timetable = plan(episode(findings=(wound(D14, WoundState.CONCERN),)))
    recheck = the(timetable, "wound-recheck:w1")
    assert serves(booked(D12, "wound-recheck:w1"), recheck)
    assert serves(booked(D14, "wound-recheck"), recheck)
    assert not serves(booked(D12, "wound-recheck"), recheck)
    assert not serves(booked(D16, "wound-recheck:w2"), recheck)


@pytest.mark.parametrize(("day", "alert"), [(21, False), (22, True), (100, True)])
def test_the_safety_alert_stands_from_day_22(day: int, alert: bool) -> None:
    assert safety_alert(plan(episode()), after(day)) is alert
    assert safety_alert(plan(episode(), rules=TEN_TO_FOURTEEN), after(day)) is alert


@pytest.mark.parametrize(("latest", "from_day"), [(30, 31), (21, 22), (14, 22), (22, 23)])
def test_an_order_for_later_removal_moves_the_alert(latest: int, from_day: int) -> None:
    timetable = plan(episode(instructions=(order("stitches-out", earliest=10, target=12, latest=latest),)))
    assert timetable.safety_from == after(from_day)
    assert [safety_alert(timetable, after(day)) for day in (from_day - 1, from_day)] == [False, True]


def test_an_order_for_something_else_does_not() -> None:
    timetable = plan(episode(instructions=(order("close", earliest=60, target=90, latest=99),)))
    assert timetable.safety_from == after(22)


@pytest.mark.parametrize(
    ("findings", "facts", "stands"),
    [
        (out_and_closed(D14), {}, False),
        ((stitches(D14),), {}, True),
        ((wound(D14),), {}, True),
        ((wound(D14),), {"suture": Suture.NONE}, False),
        ((wound(D14),), {"suture": Suture.UNKNOWN}, True),
        ((stitches(D14),), {"suture": Suture.ABSORBABLE}, True),
        ((), {"done": (Done("stitches-out", D14),)}, True),
        (out_and_closed(D14), {"closed_on": D20}, False),
        ((), {"closed_on": D20}, False),
    ],
)
def test_it_ends_with_stitches_out_and_wound_closed_on_record(
    findings: tuple[object, ...], facts: dict[str, object], stands: bool
) -> None:
    assert safety_alert(plan(episode(findings=findings, **facts)), D40) is stands


@pytest.mark.parametrize(("reopened", "from_day"), [(16, 22), (22, 22), (30, 30)])
def test_a_wound_that_opens_again_brings_it_back_from_that_day(reopened: int, from_day: int) -> None:
    found = (*out_and_closed(D14), wound(after(reopened), WoundState.CONCERN, ref="w2"))
    assert plan(episode(findings=found)).safety_from == after(from_day)


def test_there_is_none_without_a_surgery_date() -> None:
    assert not safety_alert(plan(episode(None)), date.max)


@pytest.mark.parametrize(("day", "planned"), [(-1, True), (0, False), (1, False)])
def test_a_surgery_to_come_is_planned(day: int, planned: bool) -> None:
    assert is_planned(plan(episode()), after(day)) is planned
    assert not is_planned(plan(episode(None)), after(day))
