"""A long list taken in behind the pages: in portions, whole or not at all, wherever it is killed, cancelled or met."""

from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.db import transaction

from caseload.actions import confirming, intake, jobs
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import (
    Episode,
    FollowUp,
    Identifier,
    IntakeBatch,
    IntakeRow,
    Job,
    JobState,
    Patient,
    Referral,
    Standing,
    TrailEntry,
)  # fmt: skip
from caseload.reads.matching.entry import Decision
from tests.intake.conftest import said
from tests.record.before import freed
from tests.scenario import by

FAMILIES = ("Ashdown", "Brackley", "Coldwell", "Dunmore", "Eastgate", "Farlow")
NHS = ("999 000 0018", "999 000 0026", "999 000 0034", "999 000 0042", "999 000 0050", "999 000 0069")


class Killed(BaseException):
    """The end of a process, which no handler sees."""


def rows():
    """Six people, the first of them again in the last row with another finger."""
    people = [
        said(surname=family, nhs_number=nhs, date_of_birth=f"195{place}-06-14", telephone="")
        for place, (family, nhs) in enumerate(zip(FAMILIES, NHS, strict=True))
    ]
    return [*people, people[0] | {"Digit": "index"}]


@pytest.fixture(autouse=True)
def small_portions(monkeypatch):
    monkeypatch.setattr(confirming, "PORTION", 2)
    monkeypatch.setattr(confirming, "AT_ONCE", 2)


@pytest.fixture
def asked(clinic, upload):
    """A list, and the job that takes it in."""

    def ask(*lines):
        batch = upload(*(lines or rows()))
        return batch, confirming.ask_confirm(batch, by=by(clinic.admin), version=batch.version)

    return ask


@contextmanager
def undone():
    """What is done inside is seen, and then has never been."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def test_the_same_person_stays_in_one_portion_and_everything_is_taken(clinic, asked):
    batch, job = asked()
    assert [sorted(numbers) for numbers in confirming._portions(batch)] == [[2, 8], [3, 4], [5, 6], [7]]
    jobs.run_job(job.pk)
    job.refresh_from_db()
    batch.refresh_from_db()
    assert (job.state, job.answer) == (JobState.DONE, "7 new, 0 changed, 0 known; 0 left out.")
    assert batch.confirmed_by == clinic.admin and Episode.objects.count() == 7 and Patient.objects.count() == 6
    assert rederive(by=by(), mend=False).moved == {}


NAMED = {
    Patient: ("family", "given", "born_on", "phone_key", "search_key"),
    Identifier: ("patient__family", "scheme", "value"),
    Referral: ("patient__family", "received_on", "source", "priority", "recorded_at"),
    Episode: ("patient__family", "digit", "surgery_on", "rules", "next_kind", "next_on", "next_owner", "recorded_on"),
    FollowUp: ("patient__family", "episode__digit", "key", "earliest_on", "target_on", "latest_on", "state"),
    Standing: ("episode__patient__family", "episode__digit", "from_on", "until_on", "headline", "owner"),
    TrailEntry: ("act", "patient__family", "subject", "at", "changed"),
    IntakeRow: ("number", "verdict", "outcome", "match", "patient__family", "taken_at"),
    IntakeBatch: ("confirmed_by", "confirmed_at", "version"),
    Job: ("state", "answer"),
}  # fmt: skip


def stands() -> dict[str, list[str]]:
    """Everything that a list leaves behind, but for keys and codes."""
    return {
        model.__name__: sorted(map(str, model.objects.order_by().values_list(*fields)))
        for model, fields in NAMED.items()
    }


@pytest.mark.parametrize("cut", range(5))
def test_killed_after_any_portion_it_ends_as_if_it_had_never_been(clinic, asked, monkeypatch, cut):
    _, job = asked()
    take, left = confirming.take_portion, [cut]
    with undone():
        jobs.run_job(job.pk)
        whole = stands()

    def dying(*args):
        if left[0] == 0:
            raise Killed
        left[0] -= 1
        take(*args)

    monkeypatch.setattr(confirming, "take_portion", dying)
    try:
        jobs.run_job(job.pk)
    except Killed:
        freed()
    monkeypatch.setattr(confirming, "take_portion", take)
    jobs.run_job(job.pk)
    assert len(whole["Episode"]) == 7 and stands() == whole


def test_the_same_list_again_changes_nothing(clinic, upload, asked):
    _, job = asked()
    jobs.run_job(job.pk)
    assert set(upload(*rows()).rows.values_list("outcome", flat=True)) == {"known"}


def test_nothing_of_a_list_can_be_changed_while_it_is_taken_in(clinic, asked):
    batch, _ = asked()
    for change in (
        lambda: intake.discard(batch, by=by(clinic.admin)),
        lambda: intake.decide(batch, by=by(clinic.admin), version=None, decisions={}),
        lambda: confirming.confirm(batch, by=by(clinic.lead), version=None),
        lambda: confirming.ask_confirm(batch, by=by(clinic.lead), version=None),
    ):
        with pytest.raises(Refusal) as refusal:
            change()
        assert refusal.value.code == "being-taken"


def test_cancelled_after_a_portion_what_was_taken_stays_and_the_rest_is_said(clinic, asked, monkeypatch):
    batch, job = asked()
    take = confirming.take_portion

    def cancelling(*args):
        take(*args)
        jobs.cancel(job, by=by(clinic.admin))

    monkeypatch.setattr(confirming, "take_portion", cancelling)
    jobs.run_job(job.pk)
    job.refresh_from_db()
    batch.refresh_from_db()
    assert job.state == JobState.CANCELLED
    assert job.answer == "2 rows were taken in before it stopped. The other 5 can still be, or be thrown away."
    assert Episode.objects.count() == 2 and not batch.confirmed_at


@pytest.fixture
def stopped(clinic, asked):
    """A list of which two rows of seven were taken in before that was cancelled."""
    batch, job = asked()
    confirming.take_portion(batch, [2, 8], by(clinic.admin))
    jobs.cancel(job, by=by(clinic.admin))
    return batch


def test_the_rest_of_a_cancelled_list_is_taken_in_when_it_is_confirmed_again(clinic, admin, stopped):
    assert "2 rows are taken in." in admin.get(f"/intake/{stopped.code}/").content.decode()
    jobs.run_job(confirming.ask_confirm(stopped, by=by(clinic.lead), version=None).pk)
    assert Episode.objects.count() == 7 and Patient.objects.count() == 6
    assert Job.objects.latest("id").answer == "7 new, 0 changed, 0 known; 0 left out."


def test_the_rest_of_a_cancelled_list_is_thrown_away_and_that_is_said(clinic, admin, stopped):
    intake.discard(stopped, by=by(clinic.admin))
    page = admin.get(f"/intake/{stopped.code}/").content.decode()
    assert "2 new" in page and "5 rows were left out" in page and confirming_is_over(stopped)
    assert Episode.objects.count() == 2


def test_a_cancelled_list_that_nobody_comes_back_to_keeps_what_was_taken(stopped):
    intake.forget_old_uploads(by().at + timedelta(days=31))
    assert confirming_is_over(stopped)
    assert list(stopped.rows.exclude(taken_at=None).values_list("number", flat=True)) == [2, 8]


def test_a_cancelled_list_is_answered_further_but_not_read_otherwise(clinic, stopped):
    intake.decide(stopped, by=by(clinic.admin), version=None, decisions={3: Decision(read=True)})
    assert set(stopped.rows.values_list("outcome", flat=True)) == {"new"}, "also of what is on record by now"
    with pytest.raises(Refusal) as refusal:
        intake.remap(stopped, by=by(clinic.admin), version=None, meaning=intake.Meaning({}, (), None))
    assert refusal.value.code == "partly-taken"


def confirming_is_over(batch) -> bool:
    batch.refresh_from_db()
    with pytest.raises(Refusal) as refusal:
        confirming.confirm(batch, by=by(), version=None)
    return bool(batch.confirmed_at and refusal.value.code == "confirmed-already")


def test_cancelled_before_it_begins_the_list_can_still_be_taken_in(clinic, asked):
    batch, job = asked()
    assert jobs.cancel(job, by=by(clinic.admin)).answer.startswith("0 rows were taken in")
    confirming.confirm(batch, by=by(clinic.admin), version=None)
    assert Episode.objects.count() == 7


def test_a_row_of_which_the_record_moved_meanwhile_is_left_out_and_said(clinic, asked):
    batch, job = asked()
    clinic.patient(given="Marian", family="Farlow", born_on=None, nhs_number="9990000069")
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert job.answer == "6 new, 0 changed, 0 known; 1 left out."


def test_a_long_list_goes_to_the_page_of_its_work(clinic, admin, upload):
    batch = upload(*rows())
    answer = admin.post(f"/intake/{batch.code}/confirm/", {"version": batch.version}, follow=True)
    assert "Taking a theatre list in" in answer.content.decode() and not Episode.objects.exists()
    assert "is being taken in" in admin.get(f"/intake/{batch.code}/").content.decode()
