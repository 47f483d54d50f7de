"""Taking everything away, keeping a record, removing those whose time is over: as a lead does it."""

import io
import re
import zipfile

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from caseload.actions.jobs import run_due_jobs
from caseload.models import Job, Look, Patient, TrailEntry
from tests.record.before import long_gone
from tests.web.posting import errors, send


def to(name: str, patient: Patient) -> str:
    return reverse(name, args=[patient.code])


def run(command: str, *args: str) -> str:
    said = io.StringIO()
    call_command(command, *args, stdout=said)
    return said.getvalue()


def test_a_lead_asks_for_the_file_says_what_for_and_fetches_it(clinic, lead):
    patient = clinic.patient()
    address = to("patient-file", patient)
    assert errors(send(lead, address)) == {"why": ["required"], "sure": ["required"]}
    job = send(lead, address, why="asked by letter", sure="on").url
    run_due_jobs(9)
    assert "Download patient-file.zip" in lead.get(job).content.decode()
    file = lead.get(f"{job}file/")
    assert zipfile.ZipFile(io.BytesIO(file.content)).namelist()[0] == "read-me-first.html"
    assert "no-store" in file["Cache-Control"]
    assert Look.objects.filter(patient=patient, route="job-file").exists()


@pytest.mark.parametrize("name", ["patient-file", "patient-keep"])
def test_nobody_but_a_lead_is_offered_it_or_gets_it(clinic, therapist, admin, name):
    patient = clinic.patient()
    for client in (therapist, admin):
        assert client.get(to(name, patient)).status_code == 403
        assert to(name, patient) not in client.get(to("patient", patient)).content.decode()


def test_a_record_is_kept_with_a_reason_and_not_any_more(clinic, lead):
    patient = long_gone(clinic)
    address = to("patient-keep", patient)
    assert errors(send(lead, address, keep_until_on="1 May 2040")) == {"keep_why": ["why-missing"]}
    send(lead, address, keep_why="legal claim", keep_until_on="1 May 2040")
    page = lead.get(to("patient", patient)).content.decode()
    assert "Kept beyond its time, until Tue 1 May 2040: legal claim" in page
    send(lead, address, keep_why="", keep_until_on="")
    patient.refresh_from_db()
    assert (patient.keep_why, patient.keep_until_on) == ("", None)
    assert TrailEntry.objects.filter(patient=patient, act="record.keep").count() == 2


def test_the_dry_run_removes_nothing_until_its_words_are_typed(clinic, lead):
    gone, here = long_gone(clinic), clinic.episode().patient
    page = lead.get(reverse("retention"))
    assert gone.code in page.content.decode() and here.code not in page.content.decode()
    assert errors(send(lead, reverse("retention"), words="yes")) == {"words": ["words-differ"]}
    job = send(lead, reverse("retention"), words="remove 1 record").url
    run_due_jobs(9)
    assert "1 record was removed." in lead.get(job).content.decode()
    assert list(Patient.objects.values_list("code", flat=True)) == [here.code]


def test_what_was_not_listed_when_the_page_was_opened_is_not_removed(clinic, lead):
    long_gone(clinic)
    page = lead.get(reverse("retention"))
    long_gone(clinic)
    assert errors(send(lead, reverse("retention"), page=page, words="remove 1 record"))["__all__"] == ["listed-anew"]
    assert not Job.objects.exists()


def test_where_nothing_is_over_there_is_nothing_to_press(clinic, lead, admin):
    clinic.episode()
    page = lead.get(reverse("retention")).content.decode()
    assert "outlived its time" in page and "Remove them" not in page
    assert admin.get(reverse("retention")).status_code == 403


def test_the_command_lists_by_code_and_writes_nothing(clinic):
    gone = long_gone(clinic)
    said = run("retention")
    assert f"{gone.code}  last contact Tue 2 May 2017, kept until Fri 2 May 2025" in said
    assert "Nothing was removed" in said and not re.search("Ivo|Harrow", said)
    assert Patient.objects.exists()


def test_the_command_removes_for_a_lead_only(clinic):
    long_gone(clinic), long_gone(clinic)
    for by_whom in ("", "thea", "nobody"):
        with pytest.raises(CommandError):
            call_command("retention", "--remove", "--by", by_whom)
    assert run("retention", "--remove", "--by", "lena") == "2 records were removed.\n"
    assert not Patient.objects.exists()


def test_the_command_writes_what_is_held_into_a_folder_of_its_owner(clinic, tmp_path):
    patient, folder = clinic.patient(), tmp_path / "file"
    said = run("patient_file", patient.code, str(folder), "--by", "lena", "--why", "asked by letter")
    assert "read-me-first.html" in said and patient.family not in said
    assert patient.family in (folder / "patients.csv").read_text("utf-8-sig")
    assert {oct(path.stat().st_mode)[-3:] for path in [folder, *folder.iterdir()]} == {"700", "600"}
    assert Look.objects.get(patient=patient).origin == "patient_file"


@pytest.mark.parametrize(("code", "who"), [("nobody", "lena"), ("", "thea"), ("", "nobody")])
def test_the_command_refuses_without_leaving_anything(clinic, tmp_path, code, who):
    folder = tmp_path / "file"
    with pytest.raises(CommandError):
        run("patient_file", code or clinic.patient().code, str(folder), "--by", who, "--why", "asked")
    assert not folder.exists() and not Look.objects.exists()
