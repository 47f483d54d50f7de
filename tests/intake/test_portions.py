"""A long list taken in behind the pages: in portions, whole or not at all, wherever it is killed, cancelled or met."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db.models import Count

from caseload.actions import confirming, intake, jobs
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Episode, IntakeRow, Job, JobState, Patient, TrailEntry
from tests.intake.conftest import said
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


@pytest.fixture
def asked(clinic, upload):
    """A list, and the job that takes it in."""

    def ask(*lines):
        batch = upload(*(lines or rows()))
        return batch, confirming.ask_confirm(batch, by=by(clinic.admin), version=batch.version)

    return ask


def freed() -> None:
    Job.objects.filter(ended_at=None).update(claimed_until=datetime.now(UTC) - timedelta(seconds=1))


def test_the_same_person_stays_in_one_portion_and_everything_is_taken(clinic, asked):
    batch, job = asked()
    assert [sorted(numbers) for numbers in confirming._portions(batch)] == [[2, 8], [3, 4], [5, 6], [7]]
    jobs.run_job(job.pk)
    job.refresh_from_db()
    batch.refresh_from_db()
    assert (job.state, job.answer) == (JobState.DONE, "7 new, 0 changed, 0 known; 0 left out.")
    assert batch.confirmed_by == clinic.admin and Episode.objects.count() == 7 and Patient.objects.count() == 6
    assert rederive(by=by(), mend=False).moved == {}


@pytest.mark.parametrize("cut", range(5))
def test_killed_after_any_portion_it_ends_as_if_it_had_never_been(clinic, asked, monkeypatch, cut):
    batch, job = asked()
    take, left = confirming.take_portion, [cut]

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
    assert Episode.objects.count() == 7 and IntakeRow.objects.filter(taken_at=None).count() == 0
    entries = dict(TrailEntry.objects.order_by().values_list("act").annotate(count=Count("pk")))
    assert (entries["episode.open"], entries["patient.add"], entries["intake.confirm"]) == (7, 6, 2)
    assert rederive(by=by(), mend=False).moved == {}


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
    assert job.state == JobState.CANCELLED and job.answer.startswith("2 rows were taken in")
    assert batch.confirmed_at and Episode.objects.count() == 2
    assert batch.rows.filter(outcome="", verdict="doubtful").count() == 5


def test_what_was_left_by_a_cancelled_one_is_taken_from_the_same_file_again(clinic, asked, monkeypatch):
    test_cancelled_after_a_portion_what_was_taken_stays_and_the_rest_is_said(clinic, asked, monkeypatch)
    monkeypatch.undo()
    monkeypatch.setattr(confirming, "PORTION", 2)
    _, job = asked()
    jobs.run_job(job.pk)
    assert Episode.objects.count() == 7 and Patient.objects.count() == 6


def test_cancelled_before_it_begins_the_list_can_still_be_taken_in(clinic, asked):
    batch, job = asked()
    assert jobs.cancel(job, by=by(clinic.admin)).answer == "Nothing was taken in. The list can still be."
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
    assert "Theatre list taken in" in answer.content.decode() and not Episode.objects.exists()
    assert "is being taken in" in admin.get(f"/intake/{batch.code}/").content.decode()
