"""Stored against derived: drift is found and mended, by command and in the background."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import call_command

from caseload.actions import jobs, service, ticks
from caseload.actions.rederive import rederive
from caseload.models import Closure, Episode, FollowUp, Job, Standing, Submission
from tests.scenario import by

NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


def spoil(clinic) -> None:
    clinic.episode()
    FollowUp.objects.filter(key="stitches-out").update(target_on=date(2026, 4, 2))
    Standing.objects.all().delete()


def test_drift_is_reported_and_mended(clinic):
    spoil(clinic)
    moved = rederive(by=by(), mend=False).moved[Episode.objects.get().code]
    assert set(moved) == {"stitches-out", "headline"}
    rederive(by=by())
    assert rederive(by=by()).moved == {}


def test_the_command_reports_writes_nothing_on_a_dry_run_and_is_safe_twice(clinic, capsys):
    spoil(clinic)
    with pytest.raises(SystemExit):
        call_command("rederive", dry_run=True)
    assert "differences in 1 found, nothing written" in capsys.readouterr().out
    call_command("rederive")
    call_command("rederive")
    assert "differences in 0 put right" in capsys.readouterr().out


def test_a_closure_moves_what_it_hits_at_once_and_the_background_finds_nothing_left(clinic):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    assert row.proposed_on == date(2026, 4, 2)
    service.add_closure(
        by=by(clinic.lead), site=clinic.site, starts_on=row.proposed_on, ends_on=row.proposed_on, reason="flood"
    )
    row.refresh_from_db()
    assert row.proposed_on == date(2026, 4, 1)
    assert jobs.run_due_jobs(limit=10) == 1
    assert Job.objects.get().answer == "1 episodes worked out again; differences in 0 put right."


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
