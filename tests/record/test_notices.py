"""Notices are kept in step with the appointments that they are about: made once, withdrawn, made again, left alone."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, episodes, notices, patients, rehousing, service, undoing, walk_ins
from caseload.actions.act import By
from caseload.actions.in_step import bring_in_step
from caseload.actions.rederive import rederive
from caseload.actions.settle import together
from caseload.models import Appointment, Notice, NoticeState
from caseload.timetable.terms import Ending, Outcome
from tests.scenario import by

ON, ELSEWHEN = date(2026, 4, 20), date(2026, 4, 21)
WEEK, DAYS = "week-before by email", "days-before by email"
PLANNER = By(None, datetime(2026, 4, 1, 10, tzinfo=UTC), date(2026, 4, 1))
WRITABLE = {"email": "rosa@example.org", "email_consent": True, "postal_address": "2 Quay Street"}


@pytest.fixture(autouse=True)
def mail(settings) -> None:
    settings.MAIL_URL = "folder:"


@pytest.fixture
def booked(clinic):
    """A booking of which the patient does not know yet, far enough ahead for both reminders."""
    return book(clinic)


def book(clinic, told: str = "untold", **reach: object) -> Appointment:
    row = clinic.episode(clinic.patient(**(WRITABLE | reach))).follow_ups.get(key="stitches-out")
    return clinic.book([row], ON, told=told)


def waiting(appointment: Appointment) -> list[str]:
    """What waits of an appointment, in the order in which it goes out."""
    rows = Notice.objects.filter(patient=appointment.patient_id, state="waiting").order_by("due_at")
    return [f"{row.kind} by {row.channel}" for row in rows]


def in_step() -> bool:
    return rederive(by=by(), mend=False).moved == {}


def close(clinic, appointment: Appointment, how: Ending) -> None:
    episode = appointment.purposes.get().follow_up.episode
    on, to = by().today, "Another hand clinic"
    episodes.close(episode, by=by(clinic.lead), version=None, how=how, on=on, received_by=to)


def test_a_booking_has_its_news_and_both_reminders(booked):
    assert waiting(booked) == ["booked by email", WEEK, DAYS]
    assert in_step()


def test_a_walk_in_has_none(clinic):
    walk_ins.see([clinic.episode().follow_ups.get(key="stitches-out")], by=by(clinic.therapist))
    assert not Notice.objects.exists()


@pytest.mark.parametrize(
    ("act", "left"),
    [
        (lambda c, a: appointments.end(a, by=by(c.admin), outcome=Outcome.CANCELLED_BY_PATIENT), []),
        (lambda c, a: appointments.end(a, by=by(c.admin), outcome=Outcome.CANCELLED_BY_CLINIC), ["cancelled by email"]),
        (lambda c, a: rehousing.call_off([a.session], by=by(c.lead), why="flood"), ["cancelled by email"]),
        (lambda c, a: close(c, a, Ending.TRANSFERRED), ["cancelled by email"]),
        (lambda c, a: close(c, a, Ending.DIED), []),
        (lambda c, a: undoing.undo(a, by=by(c.admin)), []),
        (lambda c, a: appointments.tell(a, by=by(c.admin), told="told"), [WEEK, DAYS]),
        (
            lambda c, a: appointments.move(a, by=by(c.admin), session=c.session(ELSEWHEN), start=540, told="untold"),
            ["moved by email", WEEK, DAYS],
        ),
    ],
    ids=["patient cancels", "clinic cancels", "session lost", "closed", "died", "taken back", "told", "moved"],
)  # fmt: skip
def test_what_no_longer_applies_is_withdrawn_by_the_act_that_ends_it(clinic, booked, act, left):
    had = set(Notice.objects.values_list("pk", flat=True))
    act(clinic, booked)
    assert waiting(booked) == left and in_step()
    gone = Notice.objects.filter(pk__in=had).exclude(state=NoticeState.WAITING)
    assert {row.state for row in gone} == {NoticeState.WITHDRAWN} and not gone.filter(withdrawn_by__isnull=False)


def test_what_is_taken_back_is_wanted_again_and_the_same_row_waits_again(clinic, booked):
    news = booked.notices.get(kind="booked")
    appointments.tell(booked, by=by(clinic.admin), told="told")
    undoing.undo(booked, by=by(clinic.admin))
    assert waiting(booked) == ["booked by email", WEEK, DAYS]
    assert booked.notices.get(kind="booked") == news and in_step()


def test_a_reminder_that_is_due_already_outlives_what_is_taken_back(clinic, booked):
    late = by(clinic.admin, date(2026, 4, 16))
    appointments.tell(booked, by=late, told="told")
    undoing.undo(booked, by=late)
    assert waiting(booked) == ["booked by email", WEEK, DAYS]
    assert rederive(by=late, mend=False).moved == {}


def test_an_appointment_moved_and_moved_back_is_reminded_of_where_it_is(clinic, booked):
    appointments.move(booked, by=by(clinic.admin), session=clinic.session(ELSEWHEN), start=540)
    undoing.undo(booked, by=by(clinic.admin))
    due = Notice.objects.filter(state="waiting", kind="days-before").values_list("due_at", flat=True)
    assert list(due) == [datetime(2026, 4, 16, 8, tzinfo=UTC)] and in_step()


def test_what_went_out_is_never_touched_again(clinic, booked):
    sent = booked.notices.get(kind="week-before")
    notices.record_sent(sent, by=PLANNER, to="rosa@example.org", text="Dear Rosa")
    appointments.move(booked, by=by(clinic.admin), session=clinic.session(ELSEWHEN), start=540)
    close(clinic, booked, Ending.DIED)
    sent.refresh_from_db()
    assert (sent.state, sent.sent_text, sent.withdrawn_at) == ("sent", "Dear Rosa", None)


def test_what_somebody_withdrew_is_not_made_again(clinic, booked):
    notices.withdraw(booked.notices.get(kind="days-before"), by=by(clinic.admin), why="asked not to be reminded")
    appointments.tell(booked, by=by(clinic.admin), told="message-left")
    patients.correct(booked.patient, by=by(clinic.admin), version=None, email_consent=False)
    assert waiting(booked) == ["week-before by call"] and in_step()


@pytest.mark.parametrize(
    ("changes", "left"),
    [
        ({"email_consent": False}, ["booked by letter", "week-before by call", "days-before by call"]),
        ({"email": "", "postal_address": ""}, ["week-before by call", "days-before by call"]),
        ({"interpreter": True}, ["week-before by call", "days-before by call"]),
        ({"phone": "07700 900123"}, ["booked by email", WEEK, DAYS]),
    ],
)
def test_how_a_patient_is_reached_decides_at_once_how_they_are_written_to(clinic, booked, changes, left):
    patients.correct(booked.patient, by=by(clinic.admin), version=None, **changes)
    assert waiting(booked) == left and in_step()
    patients.correct(booked.patient, by=by(clinic.admin), version=None, interpreter=False, **WRITABLE)
    assert waiting(booked) == ["booked by email", WEEK, DAYS] and in_step()


@pytest.mark.parametrize(("mail_url", "by_email"), [("", 1), ("smtps://mail.example.org:465", 1), ("folder:", 2)])
def test_an_invented_patient_is_never_mailed_for_real(clinic, settings, mail_url, by_email):
    settings.MAIL_URL = mail_url
    book(clinic, told="told")
    invented = book(clinic, told="told")
    type(invented.patient).objects.filter(pk=invented.patient_id).update(demo=True)
    rederive(by=by())
    assert Notice.objects.filter(kind="days-before", channel="email", state="waiting").count() == by_email


def test_once_mail_is_set_up_no_more_what_waits_is_reported_and_mended(booked, settings):
    settings.MAIL_URL = ""
    drift = rederive(by=by(), mend=False)
    assert drift.sentence(mended=False).endswith("Notices of 1 appointments found, nothing written.")
    assert waiting(booked)[1:] == [WEEK, DAYS] and not in_step()
    rederive(by=by())
    assert waiting(booked) == ["booked by letter", "week-before by call", "days-before by call"] and in_step()


def test_a_closure_moves_the_reminders_before_it_and_its_removal_moves_them_back(clinic, booked):
    def due() -> list[date]:
        return [row.due_at.date() for row in booked.notices.exclude(kind="booked").order_by("due_at")]

    shut = {"starts_on": date(2026, 4, 16), "ends_on": date(2026, 4, 16), "reason": "flood"}
    closure = service.add_closure(by=by(clinic.lead), site=clinic.site, **shut)
    assert due() == [date(2026, 4, 8), date(2026, 4, 15)] and in_step()
    service.remove_closure(closure, by=by(clinic.lead))
    assert due() == [date(2026, 4, 9), date(2026, 4, 16)] and in_step()


def test_what_came_too_late_is_withdrawn_and_stays_so(clinic, booked):
    later = by(clinic.admin, date(2026, 4, 17))
    notices.withdraw_expired(later.at)
    appointments.tell(booked, by=later, told="told")
    appointments.tell(booked, by=later, told="untold")
    assert waiting(booked) == ["booked by email", DAYS]
    assert booked.notices.get(kind="week-before").withdrawn_why == "its time had passed"
    assert rederive(by=later, mend=False).moved == {}


def test_acts_together_keep_their_notices_in_step_once_at_the_end(clinic):
    first, second = book(clinic), book(clinic)
    with together():
        appointments.tell(first, by=by(clinic.admin), told="told")
        undoing.undo(second, by=by(clinic.admin))
        assert waiting(first) == ["booked by email", WEEK, DAYS]
    assert (waiting(first), waiting(second)) == ([WEEK, DAYS], []) and in_step()


def test_the_queries_do_not_grow_with_the_appointments(clinic):
    keys, asked = [book(clinic).pk for _ in range(4)], []
    for few in (keys[:1], keys):
        Notice.objects.all().delete()
        with CaptureQueriesContext(connection) as found:
            assert bring_in_step(few, by().at) == 3 * len(few)
        asked.append(len(found))
    assert asked == [4, 4]
    assert bring_in_step(keys, by().at) == 0
