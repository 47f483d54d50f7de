"""Appointments booked, moved, ended, told, arrived; and two that change places at the same moment."""

from datetime import date

import pytest
from django.db import connection, transaction

from caseload.actions import appointments, findings, undoing
from caseload.actions.rederive import rederive
from caseload.models import Appointment, FollowUp, Seat, Session, TrailEntry
from caseload.reads.history import tell
from caseload.timetable.terms import Outcome, Way
from tests.record.at_once import at_once
from tests.record.before import booked
from tests.record.refusing import refused
from tests.scenario import TODAY, Fernhollow, by, fernhollow

THURSDAY, TUESDAY = date(2026, 4, 2), date(2026, 4, 7)


def minutes(appointment: Appointment) -> list[int]:
    return list(Seat.objects.filter(appointment=appointment).order_by("slot").values_list("slot__minute", flat=True))


def due(clinic: Fernhollow, key: str = "stitches-out", **facts) -> FollowUp:
    return clinic.episode(**facts).follow_ups.get(key=key)


def test_two_digits_share_one_visit_of_their_minutes_together(clinic):
    first = due(clinic)
    second = due(clinic, patient=first.patient, digit="middle")
    appointment = clinic.book([first, second], THURSDAY)
    assert (appointment.minutes, minutes(appointment)) == (40, [540, 560])
    assert set(FollowUp.objects.filter(key="stitches-out").values_list("booked_on", flat=True)) == {THURSDAY}


def test_an_interpreter_lengthens_and_is_to_be_told_again_after_a_move(clinic):
    row = due(clinic, patient=clinic.patient(interpreter=True))
    appointment = clinic.book([row], THURSDAY, interpreter_told=True)
    assert (minutes(appointment), appointment.interpreter_told) == ([540, 560], True)
    appointments.move(appointment, by=by(clinic.admin), session=appointment.session, start=560)
    assert (minutes(appointment), appointment.interpreter_told) == ([560, 580], False)
    appointments.tell(appointment, by=by(clinic.admin), told="told", interpreter_told=True)
    assert Appointment.objects.get().interpreter_told


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"start": 545}, "no-room"),
        ({"start": 720}, "no-room"),
        ({"start": 520}, "no-room"),
        ({"way": Way.TELEPHONE}, "needs-in-person"),
    ],
)
def test_a_place_that_does_not_fit_is_refused(clinic, said, why):
    row = due(clinic, patient=clinic.patient(interpreter=True))
    where = {"session": clinic.session(THURSDAY), "start": 540} | said
    assert refused(lambda: appointments.book([row], by=by(clinic.admin), **where)) == why
    assert not Appointment.objects.exists()


@pytest.mark.parametrize(
    ("own", "why"),
    [
        ({"ways": ["telephone"]}, "way-not-taken"),
        ({"takes": ["outcome-review"]}, "kind-not-taken"),
        ({"live": False, "lost_why": "illness"}, "session-lost"),
    ],
)
def test_a_session_that_does_not_take_it_is_refused(clinic, own, why):
    session = clinic.session(THURSDAY)
    Session.objects.update(**own)
    session.refresh_from_db()
    row = due(clinic)
    assert refused(lambda: appointments.book([row], by=by(clinic.admin), session=session, start=540)) == why


def test_a_session_lost_since_the_page_was_opened_is_refused(clinic):
    row, session = due(clinic), clinic.session(THURSDAY)
    Session.objects.update(live=False, lost_why="illness")
    assert refused(lambda: appointments.book([row], by=by(clinic.admin), session=session, start=540)) == "session-lost"


def test_a_held_slot_is_refused(clinic):
    row, session = due(clinic), clinic.session(THURSDAY)
    session.slots.filter(minute=540).update(held_why="kept for urgent")
    assert refused(lambda: appointments.book([row], by=by(clinic.admin), session=session, start=540)) == "slot-held"


def test_a_time_that_is_over_is_refused(clinic):
    # The clock of the tests is 09:00 universal, 10:00 in an English April.
    row, session = due(clinic), clinic.session(TODAY)
    assert refused(lambda: appointments.book([row], by=by(clinic.admin), session=session, start=580)) == "time-past"
    appointments.book([row], by=by(clinic.admin), session=session, start=600)


def test_what_was_done_since_the_page_was_opened_is_not_booked(clinic):
    row, session = due(clinic), clinic.session(THURSDAY)
    found = [
        {"kind": "stitches", "on": TODAY, "source": "seen", "stitches_out": 4, "stitches_left": 0},
        {"kind": "wound", "on": TODAY, "source": "seen", "wound": "closed"},
    ]
    findings.record_visit(row.episode, by=by(clinic.therapist), sayings=found)
    assert row.state == "due"
    assert refused(lambda: appointments.book([row], by=by(clinic.admin), session=session, start=540)) == "not-due"


def test_a_move_keeps_the_appointment_and_gives_its_slots_up(clinic):
    appointment = booked(clinic)
    appointments.move(appointment, by=by(clinic.admin), session=clinic.session(TUESDAY), start=600, told="untold")
    row = Appointment.objects.get()
    assert (row.on, row.sequence, row.version, row.untold_since_on) == (TUESDAY, 1, 2, TODAY)
    assert minutes(row) == [600] and Seat.objects.count() == 1
    assert rederive(by=by(), mend=False).moved == {}


def test_a_move_to_where_it_is_is_refused(clinic):
    row = booked(clinic)
    where = {"session": row.session, "start": 540}
    assert refused(lambda: appointments.move(row, by=by(clinic.admin), **where)) == "not-moved"


def test_a_move_into_a_taken_slot_leaves_it_where_it_was(clinic):
    first, second = booked(clinic), booked(clinic)
    where = {"session": first.session, "start": 540}
    assert refused(lambda: appointments.move(second, by=by(clinic.admin), **where)) == "slot-taken"
    assert minutes(second) == [560] and Appointment.objects.get(pk=second.pk).version == 1


def test_an_act_on_an_old_version_is_refused(clinic):
    mine, theirs = booked(clinic), Appointment.objects.get()
    appointments.tell(theirs, by=by(clinic.lead), told="message-left")
    for act, said in (
        (appointments.move, {"session": mine.session, "start": 600}),
        (appointments.end, {"outcome": Outcome.CANCELLED_BY_PATIENT}),
        (appointments.tell, {"told": "told"}),
        (appointments.arrive, {}),
    ):
        why = refused(lambda act=act, said=said: act(mine, by=by(clinic.admin), version=1, **said))
        assert why == "changed-meanwhile", act


def test_not_told_yet_counts_from_the_day_it_began(clinic):
    appointment = clinic.book([due(clinic)], THURSDAY, told="untold", today=date(2026, 3, 30))
    appointments.tell(appointment, by=by(clinic.admin), told="untold")
    assert Appointment.objects.get().untold_since_on == date(2026, 3, 30)


def test_somebody_comes_on_the_day_and_once(clinic):
    assert refused(lambda: appointments.arrive(booked(clinic), by=by(clinic.admin))) == "not-today"
    appointment = clinic.book([due(clinic)], TODAY)
    appointments.arrive(appointment, by=by(clinic.admin))
    assert refused(lambda: appointments.arrive(appointment, by=by(clinic.admin))) == "arrived-already"
    appointments.end(appointment, by=by(clinic.therapist), outcome=Outcome.ATTENDED)
    assert minutes(appointment) == [620]


def test_the_history_says_times_as_a_clock_shows_them(clinic):
    appointment = booked(clinic)
    appointments.move(appointment, by=by(clinic.admin), session=clinic.session(TUESDAY), start=560)
    [moved] = tell(TrailEntry.objects.filter(act="appointment.move"))
    assert moved.moved[:2] == ("Day: Thu 2 Apr 2026 → Tue 7 Apr 2026", "From: 09:00 → 09:20")
    assert not [said for said in moved.moved if said.startswith(("session", "site", "sequence", "changed"))]


@pytest.mark.django_db(transaction=True)
def test_two_that_change_places_at_once_are_answered_and_nobody_waits_for_ever():
    clinic = fernhollow()
    with transaction.atomic():
        first, second = clinic.book([due(clinic)], THURSDAY), clinic.book([due(clinic)], TUESDAY)

    def change(mine: Appointment, other: Appointment) -> None:
        appointments.move(mine, by=by(clinic.admin), session=other.session, start=540)

    said = at_once(lambda: change(first, second), lambda: change(second, first))
    assert said == ["slot-taken"] * 2, connection.vendor
    assert Seat.objects.count() == 2


def test_who_has_come_is_not_moved_unless_the_arrival_is_taken_back(clinic):
    appointment = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], TODAY)
    where = {"session": clinic.session(TUESDAY), "start": 560}
    appointments.arrive(appointment, by=by(clinic.admin))
    assert refused(lambda: appointments.move(appointment, by=by(clinic.admin), **where)) == "has-come"
    undoing.undo(appointment, by=by(clinic.admin))
    appointments.move(appointment, by=by(clinic.admin), **where)
    assert Appointment.objects.get().on == TUESDAY
