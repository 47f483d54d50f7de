"""The sheet as a file: one A4 page in large type, made from the planner's own files and nothing else."""

import re
import socket
import subprocess
import sys
import warnings
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.exceptions import SuspiciousFileOperation
from django.utils import translation

from caseload.actions import jobs, sheets
from caseload.actions.ticks import SCHEDULE
from caseload.models import Job, JobFile
from caseload.outreach import pdf
from caseload.outreach.plan_sheet import plan_sheet
from caseload.outreach.plan_sheet_file import paper
from tests.outreach import pseudo
from tests.outreach.cases import CASES, sheet_of
from tests.scenario import TODAY, by

WHY_NOT = "NO PDF FILE WAS TESTED: WeasyPrint or Pango is missing. On Debian: apt install libpangoft2-1.0-0"


@pytest.fixture(autouse=True)
def able():
    if not pdf.available():
        warnings.warn(WHY_NOT, stacklevel=1)
        pytest.skip(WHY_NOT)


@pytest.mark.parametrize("case", ["stitched", "absorbable", "fresh", "child", "ordered"])
def test_a_sheet_is_one_page(clinic, case):
    assert len(pdf.typeset(paper(sheet_of(clinic, case))).pages) == 1


def test_the_fullest_day_in_the_longest_months_is_one_page(clinic):
    today = date(2026, 11, 25)
    sheet = plan_sheet(clinic.episode(surgery_on=today, today=today), today=today)
    assert len(pdf.typeset(paper(sheet)).pages) == 1


@pytest.mark.parametrize("case", ["stitched", "absorbable"])
def test_an_ordinary_sheet_is_one_page_in_a_language_a_third_longer(clinic, case, monkeypatch):
    pseudo.install(monkeypatch)
    with translation.override("xs"):
        page = paper(sheet_of(clinic, case))
    assert len(pdf.typeset(page).pages) == 1


def test_the_page_is_a4_and_the_type_is_large():
    style = pdf.own_file(f"{pdf.OWN}sheet.css").read_text()
    sizes = [float(size) for size in re.findall(r"^\.plan-sheet[^{]*{[^}]*font(?:-size)?: ([\d.]+)pt", style, re.M)]
    assert "size: A4 portrait" in style and min(sizes) == 13


@pytest.mark.parametrize(
    "url", ["file:///etc/hostname", "https://example.org/a.css", f"{pdf.OWN}missing.css", f"{pdf.OWN}../../apps.py"]
)
def test_only_static_files_of_the_planner_stand_on_a_sheet(url):
    with pytest.raises((ValueError, SuspiciousFileOperation)):
        pdf.own_file(url)


def test_nothing_is_fetched_from_a_network(monkeypatch):
    asked: list[object] = []
    monkeypatch.setattr(socket, "getaddrinfo", lambda *given, **_: asked.append(given))
    monkeypatch.setattr(socket.socket, "connect", lambda *given: asked.append(given))
    made = pdf.make_pdf('<img src="http://127.0.0.1:9/a.png"><link rel="stylesheet" href="https://example.org/a.css">')
    assert made.startswith(b"%PDF-") and asked == []


def asked_for(clinic, case: str = "stitched", language: str = "en-gb") -> Job:
    episode, today = CASES[case](clinic)
    return sheets.ask(episode, language=language, by=by(clinic.therapist, today))


def test_the_background_makes_the_file_of_the_day_it_was_asked_for(clinic):
    job = asked_for(clinic)
    assert jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.answer, job.done_steps) == ("done", "The plan sheet is ready.", 2)
    assert job.file.name == "plan-sheet.pdf" and bytes(job.file.content).startswith(b"%PDF-")


def test_it_is_made_in_the_language_in_which_it_was_asked_for(clinic, monkeypatch):
    pseudo.install(monkeypatch)
    pages: list[str] = []
    monkeypatch.setattr(pdf, "make_pdf", lambda page: pages.append(page) or b"%PDF-")
    jobs.run_job(asked_for(clinic, language="xb").pk)
    assert "⟦Get medical help at once for⟧" in pages[0]


def test_a_job_that_was_killed_is_run_again_and_replaces_its_file(clinic, monkeypatch):
    monkeypatch.setattr(pdf, "make_pdf", lambda page: b"%PDF-")
    job = asked_for(clinic)
    jobs.run_job(job.pk)
    Job.objects.filter(pk=job.pk).update(state="running", ended_at=None)
    assert jobs.run_job(job.pk) and JobFile.objects.filter(job=job).count() == 1


def test_an_episode_closed_meanwhile_leaves_a_sentence_and_no_file(clinic):
    job = asked_for(clinic)
    type(clinic.episode()).objects.filter(code=job.asked["episode"]).update(ended_on=TODAY, ended_how="died")
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert job.state == "done" and "closed" in job.answer and not JobFile.objects.exists()


def test_two_people_who_ask_at_once_each_have_a_job_of_their_own(clinic):
    episode = clinic.episode()
    first = sheets.ask(episode, language="en-gb", by=by(clinic.therapist))
    assert sheets.ask(episode, language="en-gb", by=by(clinic.therapist)) == first
    assert sheets.ask(episode, language="en-gb", by=by(clinic.admin)) != first


def test_a_file_is_forgotten_after_a_day(clinic, monkeypatch):
    monkeypatch.setattr(pdf, "make_pdf", lambda page: b"%PDF-")
    job = asked_for(clinic)
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert jobs.forget_files in {do for _, do in SCHEDULE.values()}
    jobs.forget_files(job.ended_at + timedelta(hours=23))
    assert JobFile.objects.exists()
    jobs.forget_files(job.ended_at + timedelta(hours=25))
    assert not JobFile.objects.exists() and Job.objects.filter(pk=job.pk).exists()


def test_every_process_knows_the_job_and_none_loads_the_library_for_it():
    asked = "import django, sys; django.setup(); from caseload.actions.jobs import KINDS; print(*KINDS, *sys.modules)"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, cwd=settings.BASE_DIR)
    assert "plan-sheet" in told.stdout.split() and "weasyprint" not in told.stdout.split()


def test_the_library_is_imported_in_one_place():
    root = Path(pdf.__file__).parents[1]
    using = [path.name for path in root.rglob("*.py") if "weasyprint" in path.read_text()]
    assert using == ["pdf.py"]
