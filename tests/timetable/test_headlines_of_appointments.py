"""Headlines about appointments: without an outcome, not rebooked, not told. Common practice."""

from datetime import date

import pytest

from caseload.timetable.facts import Appointment
from caseload.timetable.plan import Concern
from caseload.timetable.terms import Headline, Outcome, Owner
from tests.timetable.builders import (
    about,
    after,
    booked,
    concern,
    day,
    episode,
    out_and_closed,
    plan,
)

D5, D10, D12, D13, D14, D15, D16, D17, D18, D20, D30 = (after(n) for n in (5, 10, 12, 13, 14, 15, 16, 17, 18, 20, 30))
MISSED, PATIENT_CANCELLED = Outcome.DID_NOT_ATTEND, Outcome.CANCELLED_BY_PATIENT


def test_a_day_that_passed_without_outcome_is_the_therapists() -> None:
    found = concern(plan(episode(appointments=(booked(D14),))), Headline.NO_OUTCOME)
    assert found == Concern(Headline.NO_OUTCOME, D15, Owner.THERAPIST, D14, "stitches-out")


@pytest.mark.parametrize("outcome", Outcome)
def test_an_outcome_ends_it(outcome: Outcome) -> None:
    assert concern(plan(episode(appointments=(booked(D14, outcome=outcome),))), Headline.NO_OUTCOME) is None


def test_it_also_asks_where_the_appointment_serves_nothing_that_is_left() -> None:
    found = concern(plan(episode(appointments=(booked(D14, "wound-check"),))), Headline.NO_OUTCOME)
    assert found.follow_up is None


def not_rebooked(*held: Appointment, **facts: object) -> Concern | None:
    return about(plan(episode(appointments=held, **facts)), Headline.NOT_REBOOKED, "stitches-out")


@pytest.mark.parametrize(
    ("outcome", "ended_on", "from_on"),
    [
        (MISSED, None, D14),
        (MISSED, D15, D15),
        (PATIENT_CANCELLED, D12, D12),
        (PATIENT_CANCELLED, None, after(0)),
        (Outcome.CANCELLED_BY_CLINIC, None, after(0)),
        (Outcome.CANCELLED_BY_CLINIC, D13, D13),
    ],
)
def test_not_attended_or_cancelled_is_the_admins_at_once(
    outcome: Outcome, ended_on: date | None, from_on: date
) -> None:
    found = not_rebooked(booked(D14, outcome=outcome, ended_on=ended_on))
    assert (found.from_on, found.owner, found.due_on) == (from_on, Owner.ADMIN, D16)
    assert (found.then_on, found.then_owner) == (D17, Owner.LEAD)


def test_it_is_the_leads_after_the_second_time() -> None:
    twice = (booked(D12, outcome=PATIENT_CANCELLED), booked(D14, outcome=MISSED))
    for held in (twice, twice[::-1]):
        found = not_rebooked(*held)
        assert (found.owner, found.from_on, found.then_on) == (Owner.LEAD, D14, None)


def test_it_is_the_leads_at_once_when_the_latest_day_has_passed() -> None:
    assert not_rebooked(booked(D17, outcome=MISSED)).owner is Owner.LEAD
    assert not_rebooked(booked(D16, outcome=MISSED)).owner is Owner.ADMIN


def test_rebooked_or_attended_it_is_over() -> None:
    missed = booked(D12, outcome=MISSED)
    assert not_rebooked(missed, booked(D14)) is None
    assert not_rebooked(missed, booked(D14, outcome=Outcome.ATTENDED)) is None
    assert not_rebooked(missed, findings=out_and_closed(D14)) is None


def test_missed_again_after_attending_counts() -> None:
    assert not_rebooked(booked(D12, outcome=Outcome.ATTENDED), booked(D14, outcome=MISSED)).owner is Owner.ADMIN


def test_what_is_provisional_is_not_rebooked_but_never_late() -> None:
    held = booked(D20, "therapy-review", outcome=MISSED)
    timetable = plan(episode(therapy_referral=True, appointments=(held,)))
    found = about(timetable, Headline.NOT_REBOOKED, "therapy-review")
    assert (found.from_on, found.owner, found.then_on, found.then_owner) == (D20, Owner.ADMIN, None, None)


def test_it_stands_instead_of_unbooked() -> None:
    timetable = plan(episode(appointments=(booked(D14, outcome=MISSED),)))
    assert about(timetable, Headline.VISIT_UNBOOKED, "stitches-out") is None
    assert about(timetable, Headline.VISIT_UNBOOKED, "outcome-review") is not None


def test_a_patient_not_told_is_the_admins_after_two_open_days() -> None:
    """Moved on Thursday, 2 April 2026: Good Friday and Easter Monday do not count."""
    moved = booked(day("2026-04-14"), untold_since=day("2026-04-02"))
    found = concern(plan(episode(day("2026-03-30"), appointments=(moved,))), Headline.UNTOLD)
    assert (found.from_on, found.owner, found.due_on) == (day("2026-04-09"), Owner.ADMIN, day("2026-04-08"))


def test_a_cancelled_appointment_must_be_told_too_and_a_told_one_not() -> None:
    cancelled = booked(D14, outcome=Outcome.CANCELLED_BY_CLINIC, untold_since=D10)
    assert concern(plan(episode(appointments=(cancelled,))), Headline.UNTOLD) is not None
    assert concern(plan(episode(appointments=(booked(D14),))), Headline.UNTOLD) is None


def test_beyond_the_holiday_data_two_days_count_as_two_days() -> None:
    moved = booked(day("2028-01-20"), untold_since=day("2027-12-31"))
    found = concern(plan(episode(day("2027-12-20"), appointments=(moved,))), Headline.UNTOLD)
    assert (found.due_on, found.from_on) == (day("2028-01-02"), day("2028-01-03"))


@pytest.mark.parametrize(
    ("on", "own", "days"),
    [
        # Thursday, 9 April 2026: two open days before it are Wednesday and Tuesday; Easter Monday is none.
        ("2026-04-09", {"interpreter_untold": True}, ("2026-04-07", "2026-04-07")),
        ("2026-04-09", {"untold_since": "2026-03-30"}, ("2026-04-02", "2026-04-01")),
        ("2026-04-09", {"untold_since": "2026-04-02"}, ("2026-04-07", "2026-04-07")),
        ("2026-04-09", {"untold_since": "2026-04-08"}, ("2026-04-08", "2026-04-08")),
        ("2026-04-09", {"untold_since": "2026-03-30", "interpreter_untold": True}, ("2026-04-02", "2026-04-01")),
        ("2028-01-20", {"interpreter_untold": True}, ("2028-01-18", "2028-01-18")),
        ("2020-01-02", {"interpreter_untold": True}, ("2019-12-31", "2019-12-31")),
    ],
)
def test_whom_nobody_told_two_open_days_before_the_visit_is_the_admins(on, own, days) -> None:
    """Common practice: patient and interpreter are told two open days before. `days`: from which day, due on which."""
    told = {name: day(said) if isinstance(said, str) else said for name, said in own.items()}
    found = concern(plan(episode(day("2019-12-20"), appointments=(booked(day(on), **told),))), Headline.UNTOLD)
    assert (found.from_on, found.due_on, found.owner) == (day(days[0]), day(days[1]), Owner.ADMIN)
    assert found.follow_up == "stitches-out"


@pytest.mark.parametrize("outcome", Outcome)
def test_an_interpreter_is_not_asked_for_once_the_visit_is_over(outcome: Outcome) -> None:
    held = booked(D14, outcome=outcome, interpreter_untold=True)
    assert concern(plan(episode(appointments=(held,))), Headline.UNTOLD) is None
