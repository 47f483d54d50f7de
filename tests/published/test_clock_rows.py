"""Clocks against the published: row W14 of the table of checks.

W14: a first appointment that was not attended, shown with the clock restarted and without. The rule is that of the NHS
Data Model and Dictionary for waiting times (from memory): a missed first attendance sets the clock back, a cancellation
by the patient does not. It counts from the day on which the new appointment was booked; days are those of the calendar.
"""

from datetime import date

from caseload.timetable.terms import Outcome
from caseload.waits.clocks import Held, Request, Targets, Wait, of_referral


def first_visit(outcome: Outcome) -> Wait:
    """Referred 2 March, not there on 20 March, booked again on 23 March, seen 8 April 2026."""
    not_there = Held(date(2026, 3, 20), date(2026, 3, 4), outcome, date(2026, 3, 20))
    seen = Held(date(2026, 4, 8), date(2026, 3, 23), Outcome.ATTENDED, date(2026, 4, 8))
    return of_referral(Request(date(2026, 3, 2)), [not_there, seen], [date(2026, 4, 8)], Targets())[0]


def test_w14_a_missed_first_visit_is_16_days_with_the_clock_restarted_and_37_without() -> None:
    wait = first_visit(Outcome.DID_NOT_ATTEND)
    assert wait.stopped_on and wait.restarted_on
    assert (wait.stopped_on - wait.started_on).days == 37
    assert (wait.stopped_on - wait.restarted_on).days == 16


def test_w14_a_cancellation_by_the_patient_restarts_nothing() -> None:
    wait = first_visit(Outcome.CANCELLED_BY_PATIENT)
    assert wait.stopped_on and (wait.stopped_on - wait.started_on).days == 37
    assert (wait.missed_on, wait.restarted_on) == (None, None)
