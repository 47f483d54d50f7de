"""The last act on an appointment is taken back within ten minutes, by who did it or a lead."""

from datetime import date, timedelta

import pytest

from caseload.actions import appointments, episodes, findings, undoing
from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.models import Appointment, Seat, Staff, TrailEntry, UndoStep
from caseload.reads.undoable import undoable
from caseload.timetable.terms import Outcome
from tests.record.before import booked
from tests.record.refusing import refused
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")

TUESDAY = date(2026, 4, 7)


def later(staff: Staff, minutes: int) -> By:
    return By(staff, by().at + timedelta(minutes=minutes), TODAY)


def seats_of(appointment: Appointment) -> list[tuple[date, int]]:
    return list(Seat.objects.filter(appointment=appointment).values_list("slot__on", "slot__minute"))


def test_a_booking_taken_back_is_gone_and_its_trail_stays(clinic):
    appointment = booked(clinic)
    key = appointment.pk
    undoing.undo(appointment, by=later(clinic.admin, 9))
    assert not Appointment.objects.exists() and not Seat.objects.exists() and not UndoStep.objects.exists()
    acts = TrailEntry.objects.filter(subject="appointment", subject_id=key).order_by("id")
    assert [entry.act for entry in acts] == ["appointment.book", "appointment.undo"]


def test_a_move_taken_back_sits_where_it_sat_and_a_calendar_hears_of_it(clinic):
    appointment = booked(clinic)
    was = seats_of(appointment)
    appointments.move(appointment, by=by(clinic.admin), session=clinic.session(TUESDAY), start=540, told="untold")
    undoing.undo(appointment, by=later(clinic.admin, 1))
    row = Appointment.objects.get()
    assert (row.on, seats_of(row)) == (date(2026, 4, 2), was)
    assert (row.sequence, row.version, row.told, row.untold_since_on) == (2, 3, "told", None)


def test_a_move_into_its_own_slots_is_taken_back(clinic):
    clinic.session(date(2026, 4, 2))
    row = clinic.episode(clinic.patient(interpreter=True)).follow_ups.get(key="stitches-out")
    appointment = clinic.book([row], date(2026, 4, 2))
    appointments.move(appointment, by=by(clinic.admin), session=appointment.session, start=560)
    undoing.undo(appointment, by=by(clinic.admin))
    assert [minute for _, minute in seats_of(appointment)] == [540, 560]


@pytest.mark.parametrize("outcome", [Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC])
def test_a_cancellation_taken_back_serves_again(clinic, outcome):
    appointment = booked(clinic)
    appointments.end(appointment, by=by(clinic.admin), outcome=outcome)
    undoing.undo(appointment, by=by(clinic.admin))
    row = Appointment.objects.get()
    assert (row.live, row.outcome, row.ended_on, row.sequence) == (True, "", None, 2)
    assert row.purposes.get().live and len(seats_of(row)) == 1


def test_an_attendance_taken_back_is_to_come_again(clinic):
    appointment = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], TODAY)
    appointments.end(appointment, by=by(clinic.therapist), outcome=Outcome.ATTENDED)
    undoing.undo(appointment, by=by(clinic.therapist))
    row = Appointment.objects.get()
    assert (row.outcome, row.sequence, row.purposes.get().live) == ("", 0, True)


def test_told_and_arrived_are_taken_back_without_a_word_to_calendars(clinic):
    appointment = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], TODAY, told="untold")
    appointments.tell(appointment, by=by(clinic.admin), told="message-left")
    undoing.undo(appointment, by=by(clinic.admin))
    appointments.arrive(appointment, by=by(clinic.admin))
    undoing.undo(appointment, by=by(clinic.admin))
    row = Appointment.objects.get()
    assert (row.told, row.untold_since_on, row.arrived_at, row.sequence) == ("untold", TODAY, None, 0)


def test_only_within_ten_minutes(clinic):
    appointment = booked(clinic)
    assert refused(lambda: undoing.undo(appointment, by=later(clinic.admin, 11))) == "undo-too-late"


def test_only_by_who_did_it_or_a_lead(clinic):
    appointment = booked(clinic)
    assert refused(lambda: undoing.undo(appointment, by=by(clinic.therapist))) == "undo-not-yours"
    undoing.undo(appointment, by=by(clinic.lead))


def test_only_the_last_act_and_only_once(clinic):
    appointment = booked(clinic)
    appointments.tell(appointment, by=by(clinic.admin), told="message-left")
    undoing.undo(appointment, by=by(clinic.admin))
    assert refused(lambda: undoing.undo(appointment, by=by(clinic.admin))) == "undo-overtaken"


def test_what_something_else_changed_since_is_not_taken_back(clinic):
    appointment = booked(clinic)
    Appointment.objects.update(version=7)
    assert refused(lambda: undoing.undo(appointment, by=by(clinic.admin))) == "undo-overtaken"


def test_a_booking_taken_back_by_another_meanwhile_is_a_refusal(clinic):
    mine, theirs = booked(clinic), Appointment.objects.get()
    undoing.undo(theirs, by=by(clinic.lead))
    assert refused(lambda: undoing.undo(mine, by=by(clinic.admin))) == "taken-back"
    assert refused(lambda: appointments.tell(mine, by=by(clinic.admin), told="told")) == "taken-back"


def test_a_place_taken_meanwhile_is_not_taken_from_whoever_has_it(clinic):
    appointment = booked(clinic)
    session = appointment.session
    appointments.move(appointment, by=by(clinic.admin), session=clinic.session(TUESDAY), start=540)
    other = clinic.episode()
    appointments.book([other.follow_ups.get(key="stitches-out")], by=by(clinic.lead), session=session, start=540)
    with pytest.raises(Refusal, match=other.patient.family.upper()) as refusal:
        undoing.undo(appointment, by=by(clinic.admin))
    assert refusal.value.code == "slot-taken"
    assert Appointment.objects.get(pk=appointment.pk).on == TUESDAY


def test_what_was_booked_elsewhere_meanwhile_is_not_booked_twice(clinic):
    appointment = booked(clinic)
    row = appointment.purposes.get().follow_up
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.CANCELLED_BY_PATIENT)
    appointments.book([row], by=by(clinic.lead), session=clinic.session(TUESDAY), start=540)
    assert refused(lambda: undoing.undo(appointment, by=by(clinic.admin))) == "booked-already"


def test_a_visit_does_not_come_back_to_a_closed_episode(clinic):
    appointment = booked(clinic)
    episode = appointment.purposes.get().follow_up.episode
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.CANCELLED_BY_PATIENT)
    closed = {"how": "transferred", "on": TODAY, "received_by": "Another hand clinic", "version": None}
    episodes.close(episode, by=by(clinic.lead), **closed)
    assert refused(lambda: undoing.undo(appointment, by=by(clinic.admin))) == "episode-closed"


def test_what_was_found_meanwhile_stays_found(clinic):
    appointment = booked(clinic)
    row = appointment.purposes.get().follow_up
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.CANCELLED_BY_PATIENT)
    found = [
        {"kind": "stitches", "on": TODAY, "source": "seen", "stitches_out": 4, "stitches_left": 0},
        {"kind": "wound", "on": TODAY, "source": "seen", "wound": "closed"},
    ]
    findings.record_visit(row.episode, by=by(clinic.therapist), sayings=found)
    undoing.undo(appointment, by=by(clinic.admin))
    row.refresh_from_db()
    assert row.state == "done"


def test_each_person_sees_what_they_can_take_back(clinic, django_assert_num_queries):
    appointment = booked(clinic)
    with django_assert_num_queries(1):
        [step] = undoable(clinic.admin, later(clinic.admin, 4).at)
    assert (step.code, step.minutes_left, step.what) == (appointment.code, 6, "booked for Thu 2 Apr 2026, 09:00")
    assert undoable(clinic.therapist, by().at) == []
    assert len(undoable(clinic.lead, by().at, patient=appointment.patient_id)) == 1
    assert undoable(clinic.admin, later(clinic.admin, 11).at) == []


def test_each_kind_of_step_has_its_words(clinic):
    said = []
    appointment = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], TODAY)
    for do in (
        lambda: appointments.tell(appointment, by=by(clinic.admin), told="message-left"),
        lambda: appointments.move(appointment, by=by(clinic.admin), session=appointment.session, start=640),
        lambda: appointments.arrive(appointment, by=by(clinic.admin)),
        lambda: appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.ATTENDED),
    ):
        do()
        said.append(undoable(clinic.admin, by().at)[0].what.split(",")[0])
    assert said == ["message left", "moved to Wed 1 Apr 2026", "has come", "attended"]
