"""Records whose time is over: whose they are, that all of such a record goes, and nothing of any other."""

from datetime import date

import pytest
from django.apps import apps
from django.db import connection

from caseload.access.retention import Why
from caseload.actions import contacts, referrals, retention
from caseload.actions.jobs import KINDS, run_due_jobs
from caseload.actions.retention import keys_of
from caseload.actions.sealing import seal
from caseload.errors import Refusal
from caseload.models import Gone, Job, Patient, TrailEntry
from caseload.reads.held import whose
from caseload.reads.proof import prove
from caseload.reads.retention import survey
from tests.planted import found_in, lived, over_and_done
from tests.record.before import long_gone
from tests.scenario import TODAY, by


def everything() -> str:
    """Every row of every table, as text."""
    tables = apps.get_app_config("caseload").get_models()
    return "\n".join(str(list(table._base_manager.values_list())) for table in tables)


def whys(today: date = TODAY) -> dict[str, Why]:
    return {row.code: row.why for row in survey(today).over}


def test_the_dry_run_lists_whose_time_is_over_and_counts_why_others_stay(clinic):
    gone, here = long_gone(clinic), clinic.episode().patient
    kept = long_gone(clinic)
    retention.keep(kept, by=by(clinic.lead), version=1, keep_why="legal claim", keep_until_on=None)
    seen = survey(TODAY)
    assert [(row.code, row.last_on, row.until) for row in seen.over] == [
        (gone.code, date(2017, 5, 2), date(2025, 5, 2))
    ]
    assert seen.kept == {Why.OPEN: 1, Why.KEPT: 1}
    assert here.code not in whys(date(2200, 1, 1))


@pytest.mark.parametrize(
    "again",
    [
        lambda clinic, patient: contacts.log(patient, by=by(clinic.admin), how="phone", reached="spoke"),
        lambda clinic, patient: clinic.episode(patient, digit="thumb"),
        lambda clinic, patient: referrals.add(patient, by=by(clinic.admin), received_on=TODAY, source="hand surgery"),
    ],
    ids=["rung", "operated on", "referred"],
)
def test_whoever_was_there_again_stays(clinic, again):
    patient = long_gone(clinic)
    assert patient.code in whys()
    again(clinic, patient)
    assert patient.code not in whys()
    with pytest.raises(Refusal, match="not over"):
        retention.remove(patient, by=by(clinic.lead))


def test_the_years_are_a_setting(clinic, settings):
    patient = long_gone(clinic)
    settings.KEEP_YEARS = 9
    assert patient.code not in whys()


def test_who_was_merged_into_somebody_counts_and_goes_with_them(clinic):
    (kept, twin), (other, alive) = (long_gone(clinic), long_gone(clinic)), (long_gone(clinic), clinic.patient())
    Patient.objects.filter(pk=twin.pk).update(merged_into=kept)
    Patient.objects.filter(pk=alive.pk).update(merged_into=other)
    assert set(whys()) == {kept.code}
    retention.remove(kept, by=by(clinic.lead))
    assert set(Patient.objects.values_list("pk", flat=True)) == {other.pk, alive.pk}


def test_it_takes_as_many_queries_for_many_as_for_one(clinic, django_assert_num_queries):
    with django_assert_num_queries(12):
        survey(TODAY)
    for _ in range(3):
        long_gone(clinic)
    with django_assert_num_queries(12):
        survey(TODAY)


def test_everything_about_them_goes_and_nothing_of_anybody_else(clinic):
    stays = clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], date(2026, 4, 8)).patient
    patient = over_and_done(lived(clinic))
    codes, others = whose(patient).codes, keys_of(stays)
    retention.remove(patient, by=by(clinic.lead, date(2040, 1, 1)))
    left = everything()
    assert not found_in(left)
    assert {code for code in codes if code in left} == {patient.code}
    assert keys_of(stays) == others
    connection.check_constraints()


def test_the_seals_over_the_trail_hold_and_nothing_readable_is_left_of_it(clinic):
    patient = long_gone(clinic)
    seal(by().at)
    retention.remove(patient, by=by(clinic.lead))
    assert prove().rows == Gone.objects.count() > 1 and not prove().faults
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            assert cursor.execute("PRAGMA secure_delete").fetchone() == (1,)


def test_that_it_went_is_in_the_trail_without_the_patient(clinic):
    patient = long_gone(clinic)
    rows = retention.remove(patient, by=by(clinic.lead))
    entry = TrailEntry.objects.get(act="record.remove")
    assert (entry.patient_id, entry.by) == (None, clinic.lead)
    assert entry.changed == {"record": [patient.code, ""], "rows": [rows, 0]}


def test_only_a_lead_removes_and_it_has_to_be_a_person(clinic):
    for who in (by(), by(clinic.therapist), by(clinic.admin)):
        with pytest.raises(Refusal):
            retention.remove(long_gone(clinic), by=who)


def test_a_job_removes_what_was_listed_passes_over_what_is_gone_and_keeps_what_changed(clinic):
    gone, left, again = long_gone(clinic), long_gone(clinic), long_gone(clinic)
    job = retention.ask([gone.code, left.code, again.code], by=by(clinic.lead))
    retention.remove(gone, by=by(clinic.lead))
    clinic.episode(again)
    run_due_jobs(9)
    job.refresh_from_db()
    assert job.answer == "1 record was removed. 1 was kept: something changed since it was listed."
    assert list(Patient.objects.values_list("code", flat=True)) == [again.code]


def test_a_killed_job_goes_on_where_it_was(clinic):
    first, second = long_gone(clinic), long_gone(clinic)
    job = retention.ask([first.code, second.code], by=by(clinic.lead))
    steps = KINDS["retention"](job)
    next(steps), next(steps)
    steps.close()
    Job.objects.update(claimed_until=None)
    assert list(Patient.objects.values_list("code", flat=True)) == [second.code]
    run_due_jobs(9)
    job.refresh_from_db()
    assert (job.reached, Patient.objects.count()) == ({"removed": 2}, 0)
