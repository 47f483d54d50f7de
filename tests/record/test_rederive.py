"""Stored against derived: drift is found and mended, by command and in the background."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import call_command

from caseload.actions import jobs, service, ticks
from caseload.actions.rederive import rederive
from caseload.models import Closure, FollowUp, Job, JobState, Standing, Submission
from tests.scenario import by

NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


def spoil(clinic) -> None:
    clinic.episode()
    FollowUp.objects.filter(key="stitches-out").update(target_on=date(2026, 4, 2))
    Standing.objects.all().delete()


def test_drift_is_reported_and_mended(clinic):
    spoil(clinic)
    (moved,) = rederive(by=by(), mend=False).moved.values()
    assert set(moved) == {"stitches-out", "headline"}
    rederive(by=by())
    assert rederive(by=by()).moved == {}


def test_the_command_reports_writes_nothing_on_a_dry_run_and_is_safe_twice(clinic, capsys):
    spoil(clinic)
    with pytest.raises(SystemExit):
        call_command("rederive", dry_run=True)
    assert "1 with drift found, nothing written" in capsys.readouterr().out
    call_command("rederive")
    call_command("rederive")
    assert "0 with drift mended" in capsys.readouterr().out


def test_a_closure_moves_what_it_hits_at_once_and_the_background_finds_nothing_left(clinic):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    assert row.proposed_on == date(2026, 4, 2)
    service.add_closure(
        by=by(clinic.lead), site=clinic.site, starts_on=row.proposed_on, ends_on=row.proposed_on, reason="flood"
    )
    row.refresh_from_db()
    assert row.proposed_on == date(2026, 4, 1)
    assert jobs.run_due_jobs(limit=10) == 1
    assert Job.objects.get().answer == "1 episodes derived, 0 with drift mended."


def test_a_job_that_somebody_has_claimed_is_left_alone(clinic):
    job = jobs.ask("rederive", by=by())
    Job.objects.update(claimed_until=datetime.now(UTC) + timedelta(minutes=1))
    assert not jobs.run_job(job.pk)


def test_a_job_of_a_killed_process_is_run_again_when_its_claim_expires(clinic):
    job = jobs.ask("rederive", by=by())
    Job.objects.update(claimed_until=datetime.now(UTC) - timedelta(seconds=1), state=JobState.RUNNING)
    assert jobs.run_job(job.pk)
    assert not jobs.run_job(job.pk)


def test_a_job_that_always_fails_ends_as_failed(clinic, monkeypatch):
    def fails(job):
        yield 0, 1
        raise ValueError

    monkeypatch.setitem(jobs.KINDS, "fails", fails)
    job = jobs.ask("fails", by=by())
    for _ in range(jobs.MOST_TRIES):
        Job.objects.update(claimed_until=None)
        with pytest.raises(ValueError):
            jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error) == (JobState.FAILED, f"ValueError after {jobs.MOST_TRIES} tries")


def test_the_same_job_still_waiting_is_not_asked_for_twice(clinic):
    assert jobs.ask("rederive", by=by()) == jobs.ask("rederive", by=by())


def test_keys_of_forms_are_forgotten_after_two_days(clinic):
    from uuid import uuid4

    Submission.objects.create(key=uuid4(), by=clinic.admin, act="x", at=NOW)
    ticks.forget_keys(NOW + timedelta(days=1))
    assert Submission.objects.exists()
    ticks.forget_keys(NOW + timedelta(days=3))
    assert not Submission.objects.exists()


def test_a_closure_of_one_site_does_not_shut_another(clinic):
    Closure.objects.create(site=clinic.quay, starts_on=date(2026, 4, 2), ends_on=date(2026, 4, 2), reason="flood")
    assert clinic.episode().follow_ups.get(key="stitches-out").proposed_on == date(2026, 4, 2)
