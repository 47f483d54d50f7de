"""Everything held on one patient: no table that can hold a row about one is forgotten, and nobody else is in it."""

import io
import zipfile

import pytest
import time_machine
from django.apps import apps
from django.db.models import ForeignKey, Model

from caseload.actions import contacts, notices, patient_files, visits
from caseload.actions.drafts import keep
from caseload.actions.jobs import KINDS, run_due_jobs
from caseload.actions.looks import looked
from caseload.errors import Refusal
from caseload.models import Job, JobFile, Look, Patient, TrailEntry
from caseload.outreach.patient_file import SUMMARY
from caseload.reads.columns import columns_of
from caseload.reads.held import PARTS, whose
from tests.planted import WORD, Planted, found_in
from tests.record.acts import CALLS
from tests.record.before import noticed
from tests.scenario import Fernhollow, by

BY_CODE = {"Draft", "Job", "JobFile"}
"""Tables that know a patient by a code only."""


def leads_to_a_patient(model: type[Model], seen: frozenset[type[Model]] = frozenset()) -> bool:
    """Whether some chain of foreign keys goes from a row of the table to a patient."""
    if model is Patient:
        return True
    to = {field.related_model for field in model._meta.fields if isinstance(field, ForeignKey)} - seen
    return any(leads_to_a_patient(other, seen | {model}) for other in to)


def test_every_table_with_a_way_to_a_patient_is_held_or_left_out_for_a_reason():
    there = {model for model in apps.get_app_config("caseload").get_models() if leads_to_a_patient(model)}
    held = [part.model for part in PARTS]
    assert {model.__name__ for model in there} | BY_CODE == {model.__name__ for model in held}
    assert len(set(held)) == len(held)
    assert all(part.left_out or (part.name and part.says) for part in PARTS)


@pytest.mark.parametrize("part", [part for part in PARTS if not part.left_out], ids=lambda part: part.name)
def test_every_column_of_a_file_is_said_once(part):
    headers = [column.header for column in columns_of(part.model, part.unsaid)]
    assert headers and len(set(headers)) == len(headers)


def made(patient: Patient, lead) -> dict[str, str]:
    """The files of the archive, as text."""
    job = patient_files.ask(patient, by=by(lead), why="asked for by the patient")
    run_due_jobs(9)
    with zipfile.ZipFile(io.BytesIO(JobFile.objects.get(job=job).content)) as archive:
        return {name: archive.read(name).decode("utf-8-sig") for name in archive.namelist()}


@pytest.fixture
def planted(clinic) -> Planted:
    return Planted.over(clinic)


def test_the_file_holds_what_was_recorded_written_done_and_looked_at(planted):
    patient = (episode := planted.episode()).patient
    contacts.log(patient, by=by(planted.admin), how="phone", reached="spoke", text="rang back")
    looked(patient, by=by(planted.therapist), route="patient")
    keep(planted.therapist, f"/episodes/{episode.code}/visit/", {"note": ["half typed"]}, by().at)
    files = made(patient, planted.lead)
    assert f"{WORD}family" in files["patients.csv"] and "9990000069" in files["identifiers.csv"]
    assert "rang back" in files["contacts.csv"] and "half typed" in files["not-saved.csv"]
    assert "patient added" in files["trail.csv"] and "asked for by the patient" in files["trail.csv"]
    assert "Thea Marsh" in files["looks.csv"]
    assert all(said in files[SUMMARY] for said in (f"{WORD}family", "rang back", "half typed", "Thea Marsh"))


def test_nobody_else_is_in_it(planted):
    CALLS[visits.record](planted, by(planted.lead))
    other = Fernhollow.episode(planted, Fernhollow.patient(planted))
    files = made(other.patient, planted.lead)
    assert other.patient.family in files["patients.csv"]
    assert not {name for name, text in files.items() if found_in(text)}


def test_a_notice_is_in_it_with_the_text_that_went_out(planted):
    notice = noticed(planted, "email")
    notices.record_sent(notice, by=by(planted.lead), to="someone@example.org", text="Come at nine.")
    assert "Come at nine." in made(notice.patient, planted.lead)["notices.csv"]


def test_who_was_merged_into_somebody_is_that_person(planted):
    kept, twin = planted.patient(), Fernhollow.patient(planted, given="Twin")
    Patient.objects.filter(pk=twin.pk).update(merged_into=kept)
    assert whose(kept).keys == {kept.pk, twin.pk}
    assert "Twin" in made(kept, planted.lead)["patients.csv"]


def test_who_took_it_away_and_what_for_is_a_look_and_in_the_trail(clinic):
    patient = clinic.patient()
    with pytest.raises(Refusal, match="what it is for"):
        patient_files.ask(patient, by=by(clinic.lead), why=" ")
    patient_files.ask(patient, by=by(clinic.lead), why="asked for by the patient")
    look, entry = Look.objects.get(patient=patient), TrailEntry.objects.get(patient=patient, act="patient.file")
    assert (look.by, look.why, look.route) == (clinic.lead, "asked for by the patient", "patient-file")
    assert (entry.by, entry.why) == (clinic.lead, "asked for by the patient")


def test_the_same_rows_give_the_same_file_but_for_the_minute(clinic):
    patient = clinic.patient()
    with time_machine.travel(by().at, tick=False):
        job = patient_files.ask(patient, by=by(clinic.lead), why="asked")
        run_due_jobs(9)
        once = bytes(JobFile.objects.get().content)
        list(KINDS["patient-file"](job))
    assert bytes(JobFile.objects.get().content) == once


def test_a_patient_who_is_gone_when_it_is_made_has_no_file(clinic):
    job = Job.objects.create(kind="patient-file", asked={"patient": "gone"}, created_at=by().at)
    run_due_jobs(9)
    job.refresh_from_db()
    assert (job.state, job.answer) == ("done", "The record of this patient is not here any more.")
