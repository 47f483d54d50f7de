"""What becomes of a notice: claimed by one, recorded once, tried again, rung, given up."""

from datetime import UTC, datetime, timedelta

import pytest

from caseload.actions import appointments, notices, patients
from caseload.actions.act import By
from caseload.actions.notices import MOST_TRIES
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Contact, Notice, TrailEntry
from tests.record.before import referrer_written_to
from tests.record.test_notices import WRITABLE, book, mail, waiting  # noqa: F401
from tests.scenario import by

DUE = datetime(2026, 4, 16, 8, tzinfo=UTC)
"""Nine o'clock in summer time, two open days before."""
OVER = DUE + timedelta(days=9)


def planner(at: datetime = DUE) -> By:
    return By(None, at, at.date())


@pytest.fixture
def notice(clinic) -> Notice:
    """The reminder two open days before, by e-mail."""
    return book(clinic, told="told").notices.get(kind="days-before")


@pytest.fixture
def news(clinic) -> Notice:
    return book(clinic).notices.get(kind="booked")


def state(notice: Notice) -> tuple[str, str]:
    notice.refresh_from_db()
    return notice.state, notice.channel


def fails(notice: Notice, times: int, *, lasting: bool = False) -> datetime:
    """Claimed and failed so many times, each as soon as it may be tried again; when the last failed."""
    at = notice.due_at
    for _ in range(times):
        notices.record_failure(notices.claim(notice.pk, at), by=planner(at), error="refused", lasting=lasting)
        notice.refresh_from_db()
        at = notice.claimed_until or at
    return at


@pytest.mark.parametrize(
    ("at", "due"),
    [(DUE - timedelta(seconds=1), False), (DUE, True), (DUE + timedelta(hours=10), False),
     (DUE + timedelta(hours=23), True), (OVER, False)],
    ids=["before it is due", "due", "seven in the evening", "eight the next morning", "over"],
)  # fmt: skip
def test_it_is_taken_from_when_it_is_due_in_the_hours_of_its_site_until_it_is_over(clinic, at, due):
    notice = book(clinic, told="told").notices.get(kind="days-before")
    assert (notice.pk in notices.due_ids(10, at), bool(notices.claim(notice.pk, at))) == (due, due)


def test_who_claims_it_has_it_for_two_minutes(notice):
    assert notices.claim(notice.pk, DUE).tries == 1
    assert notices.claim(notice.pk, DUE + timedelta(seconds=119)) is None
    assert notice.pk not in notices.due_ids(10, DUE + timedelta(seconds=119))
    assert notices.claim(notice.pk, DUE + timedelta(seconds=120)).tries == 2


def test_only_email_is_claimed(clinic):
    rung = book(clinic, told="told", email="").notices.get(kind="days-before")
    assert notices.due_ids(10, DUE) == [] and notices.claim(rung.pk, DUE) is None


def test_it_is_recorded_once_however_often_it_was_sent(notice):
    for text in ("Dear Rosa", "Dear Rosa, once more"):
        notices.record_sent(notice, by=planner(), to="rosa@example.org", text=text)
    assert state(notice) == ("sent", "email") and notice.sent_text == "Dear Rosa"
    assert TrailEntry.objects.filter(act="notice.send").count() == 1


def test_what_was_withdrawn_while_it_went_out_did_go_out(clinic, notice):
    claimed = notices.claim(notice.pk, DUE)
    appointments.end(notice.appointment, by=by(clinic.admin), outcome="cancelled-by-patient")
    assert state(notice)[0] == "withdrawn" and not notices.still_wanted(notice)
    notices.record_sent(claimed, by=planner(), to="rosa@example.org", text="Dear Rosa")
    assert state(notice) == ("sent", "email") and notice.withdrawn_why == ""


def test_a_failure_is_tried_again_after_five_minutes_and_the_row_stays_in_step(notice):
    notices.record_failure(notices.claim(notice.pk, DUE), by=planner(), error="timeout", lasting=False)
    assert state(notice) == ("waiting", "email") and notice.error == "timeout"
    assert notices.claim(notice.pk, DUE + timedelta(minutes=4)) is None
    assert notices.claim(notice.pk, DUE + timedelta(minutes=5))
    assert rederive(by=planner(), mend=False).moved == {}


@pytest.mark.parametrize(("times", "lasting"), [(1, True), (MOST_TRIES, False)], ids=["lasting", "the last try"])
def test_a_reminder_that_cannot_be_sent_is_rung_and_stays_so(clinic, notice, times, lasting):
    at = fails(notice, times, lasting=lasting)
    assert state(notice) == ("waiting", "call") and (notice.error, notice.tries) == ("refused", 0)
    patients.correct(notice.patient, by=by(clinic.admin), version=None, postal_address="3 Quay Street")
    assert state(notice) == ("waiting", "call") and notices.still_wanted(notice)
    assert rederive(by=planner(at), mend=False).moved == {}


def test_news_that_cannot_be_sent_has_failed_and_its_patient_is_still_to_be_told(news):
    fails(news, MOST_TRIES)
    assert state(news) == ("failed", "email") and news.appointment.told == "untold"
    assert rederive(by=planner(), mend=False).moved == {}


def test_a_failure_so_late_that_no_try_is_left_goes_to_the_call_list(notice):
    late = datetime(2026, 4, 20, 7, 58, tzinfo=UTC)
    notices.record_failure(notices.claim(notice.pk, late), by=planner(late), error="timeout", lasting=False)
    assert state(notice) == ("waiting", "call")


def test_what_no_process_lived_to_record_is_given_up(notice):
    at = DUE
    while notices.claim(notice.pk, at):
        at += notices.CLAIM
    notices.withdraw_expired(at + timedelta(seconds=1))
    assert state(notice) == ("waiting", "call") and notice.error == "interrupted"


def test_what_is_found_unwanted_just_before_it_goes_out_goes_on_in_the_form_that_is_wanted(notice):
    type(notice.patient).objects.update(email_consent=False)
    assert not notices.still_wanted(notice)
    notices.withdraw(notice, by=planner(), why="no longer wanted")
    assert state(notice) == ("waiting", "call") and notices.still_wanted(notice)


def test_what_is_not_wanted_in_any_form_is_withdrawn_by_the_planner(notice):
    type(notice.appointment).objects.filter(pk=notice.appointment_id).update(start_minute=None, session=None)
    notices.withdraw(notice, by=planner(), why="no longer wanted")
    assert state(notice)[0] == "withdrawn" and notice.withdrawn_by is None


@pytest.mark.parametrize(("reached", "ends"), [("spoke", True), ("message-left", True), ("no-answer", False)])
def test_a_call_that_reached_them_ends_it_and_any_other_leaves_it_on_the_list(clinic, notice, reached, ends):
    notices.log_call(notice, by=by(clinic.admin), reached=reached, text="")
    assert (state(notice)[0] == "sent") is ends and notice.tries == (0 if ends else 1)
    assert Contact.objects.get(patient=notice.patient).reached == reached


def test_what_is_over_is_neither_rung_nor_withdrawn(clinic, notice):
    notices.log_call(notice, by=by(clinic.admin), reached="spoke")
    for act in (
        lambda: notices.log_call(notice, by=by(clinic.admin), reached="spoke"),
        lambda: notices.withdraw(notice, by=by(clinic.admin), why="rung"),
    ):
        with pytest.raises(Refusal, match="meanwhile"):
            act()
    assert Contact.objects.count() == 1


def test_a_reason_is_asked_for(clinic, notice):
    with pytest.raises(Refusal, match="Say why"):
        notices.withdraw(notice, by=by(clinic.admin), why=" ")


def test_a_call_ends_no_news_and_no_letter(clinic, news):
    for notice in (news, referrer_written_to(clinic)):
        with pytest.raises(Refusal, match="Only a reminder") as refused:
            notices.log_call(notice, by=by(clinic.admin), reached="spoke")
        assert refused.value.code == "not-a-reminder" and state(notice)[0] == "waiting"
    assert not Contact.objects.exists()
