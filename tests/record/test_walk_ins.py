"""A visit without an appointment: what it completes, what only a finding can, and what is then booked for nothing."""

from datetime import date

import pytest

from caseload.actions import appointments, findings, walk_ins
from caseload.errors import Refusal
from caseload.models import Appointment
from caseload.reads.needless import needless
from caseload.timetable.terms import Outcome
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")

GONE = [
    {"kind": "stitches", "on": TODAY, "source": "seen", "stitches_out": 4, "stitches_left": 0},
    {"kind": "wound", "on": TODAY, "source": "seen", "wound": "closed"},
]


def check_of(clinic, **facts):
    return clinic.episode(suture="none", technique="percutaneous", **facts).follow_ups.get(key="wound-check")


def test_it_is_an_attended_appointment_without_a_session_that_books_nothing(clinic):
    made = walk_ins.see([check_of(clinic)], by=by(clinic.therapist))
    row = Appointment.objects.get(pk=made.pk)
    assert (row.on, row.walk_in, row.outcome, row.session, row.start_minute) == (TODAY, True, "attended", None, None)
    assert not row.purposes.get().live and not row.seats.exists()


def test_what_needs_no_finding_is_carried_out_with_it(clinic):
    row = check_of(clinic)
    walk_ins.see([row], by=by(clinic.therapist))
    row.refresh_from_db()
    assert (row.state, row.done_on) == ("done", TODAY)


def test_a_removal_waits_for_what_is_found(clinic):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    walk_ins.see([row], by=by(clinic.therapist))
    row.refresh_from_db()
    assert row.state == "due"
    findings.record_visit(row.episode, by=by(clinic.therapist), sayings=GONE)
    row.refresh_from_db()
    assert row.state == "done"


def test_an_earlier_booking_is_then_for_nothing_until_it_is_cancelled(clinic, django_assert_num_queries):
    row = check_of(clinic)
    booked = clinic.book([row], date(2026, 4, 9))
    assert needless(row.patient_id, TODAY) == []
    walk_ins.see([row], by=by(clinic.therapist))
    with django_assert_num_queries(2):
        assert needless(row.patient_id, TODAY) == [booked]
    appointments.end(booked, by=by(clinic.therapist), outcome=Outcome.CANCELLED_BY_CLINIC, told="told")
    assert needless(row.patient_id, TODAY) == []


def test_a_joint_visit_with_something_left_to_do_is_kept(clinic):
    first = check_of(clinic)
    second = check_of(clinic, patient=first.patient, digit="middle")
    clinic.book([first, second], date(2026, 4, 2))
    walk_ins.see([first], by=by(clinic.therapist))
    assert needless(first.patient_id, TODAY) == []


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda c: [check_of(c), check_of(c)], "one-patient"),
        (lambda c: [], "one-patient"),
        (lambda c: [check_of(c, surgery_on=date(2026, 4, 20))], "done-day"),
        (lambda c: [c.episode().follow_ups.get(key="close")], "no-visit"),
    ],
)
def test_what_cannot_have_been_seen_is_refused(clinic, make, said):
    rows = make(clinic)
    with pytest.raises(Refusal) as refusal:
        walk_ins.see(rows, by=by(clinic.therapist))
    assert refusal.value.code == said and not Appointment.objects.exists()
