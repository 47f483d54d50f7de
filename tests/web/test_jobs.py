"""Long work on pages: whose it is, how far, cancelled, and what came of it."""

from datetime import date

import pytest

from caseload.actions import jobs
from caseload.models import Job, JobState, Look
from caseload.web import list_files
from tests.scenario import by


@pytest.fixture
def work(monkeypatch):
    def steps(job):
        for step in range(2):
            yield step, 2
        return "2 steps done."

    monkeypatch.setitem(jobs.KINDS, "work", steps)


def test_own_work_is_listed_and_a_lead_sees_all(clinic, admin, lead, therapist, work):
    jobs.ask("work", by=by(clinic.admin))
    jobs.run_due_jobs(limit=5)
    assert ["2 steps done." in each.get("/jobs/").content.decode() for each in (admin, lead, therapist)] == [
        True, True, False,
    ]  # fmt: skip


def test_who_has_asked_for_nothing_is_told_what_comes_here(therapist):
    assert "Nothing has been asked for" in therapist.get("/jobs/").content.decode()


def test_how_far_it_is_stands_beside_a_bar_with_words(clinic, admin, work):
    job = jobs.ask("work", by=by(clinic.admin))
    Job.objects.update(state=JobState.RUNNING, done_steps=1, steps=2)
    page = " ".join(admin.get(f"/jobs/{job.code}/").content.decode().split())
    assert "Step 1 of 2." in page and '<progress value="1" max="2"' in page and "Cancel it" in page


def test_a_press_cancels_it_and_a_second_one_says_that_it_is_over(clinic, admin, work):
    job = jobs.ask("work", by=by(clinic.admin))
    for said in ("It is cancelled", "This is over already."):
        answer = admin.post(f"/jobs/{job.code}/cancel/", follow=True)
        assert said in answer.content.decode()
    assert Job.objects.get().state == JobState.CANCELLED


def test_what_somebody_else_asked_for_is_not_there(clinic, therapist, work):
    job = jobs.ask("work", by=by(clinic.admin))
    assert therapist.get(f"/jobs/{job.code}/").status_code == 404
    assert therapist.post(f"/jobs/{job.code}/cancel/").status_code == 404


@pytest.mark.parametrize("address", ["/jobs/nothing/", "/jobs/nothing/file/", "/jobs/nothing/cancel/"])
def test_an_unknown_code_is_not_there(lead, address):
    assert lead.get(address).status_code in (404, 405)
    assert lead.post(address).status_code in (404, 405)


@pytest.mark.parametrize(("name", "rows"), [("caseload", 3), ("overdue", 3), ("to-book", 9)])
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_long_list_is_made_behind_the_pages_and_is_the_file_that_a_short_one_is(
    clinic, lead, therapist, monkeypatch, name, rows, kind
):
    for _ in range(3):
        clinic.episode(surgery_on=date(2026, 3, 1))
    at_once = lead.post(f"/{name}/?sort=patient", {"kind": kind})
    monkeypatch.setattr(list_files, "AT_ONCE", 2)
    monkeypatch.setattr(list_files, "STEP", 2)
    page = lead.post(f"/{name}/?sort=patient", {"kind": kind}, follow=True)
    assert "List as a file" in page.content.decode()
    jobs.run_due_jobs(limit=1)
    job = Job.objects.get()
    assert (job.state, job.answer) == (JobState.DONE, f"{rows} rows are in the file.")
    made = lead.get(f"/jobs/{job.code}/file/")
    assert (made.content, made["Content-Type"]) == (at_once.content, at_once["Content-Type"])
    assert made["Content-Disposition"] == at_once["Content-Disposition"]
    assert Look.objects.filter(route=f"{name}-file", rows=rows).count() >= 2
    assert therapist.get(f"/jobs/{job.code}/file/").status_code == 404


def test_the_name_of_a_patient_that_was_looked_for_is_not_kept_with_the_job(clinic, lead, monkeypatch):
    monkeypatch.setattr(list_files, "AT_ONCE", -1)
    clinic.episode()
    lead.post("/caseload/", {"name": "Ashdown"})
    for _ in range(2):
        lead.post("/caseload/", {"kind": "csv"})
        assert Job.objects.latest("id").asked["patient"] == "Ashdown"
        jobs.run_due_jobs(limit=1)
        assert Job.objects.latest("id").asked["patient"] == ""
    assert Job.objects.count() == 2


def test_a_file_that_is_there_is_not_made_a_second_time_after_a_kill(clinic, lead, monkeypatch):
    monkeypatch.setattr(list_files, "AT_ONCE", -1)
    clinic.episode()
    lead.post("/caseload/", {"kind": "csv"})
    jobs.run_due_jobs(limit=1)
    Job.objects.update(state=JobState.RUNNING, ended_at=None, answer="")
    monkeypatch.setattr(list_files, "LISTS", {})
    jobs.run_due_jobs(limit=1)
    assert Job.objects.get().answer == "1 row is in the file."


def test_a_failed_file_says_where_to_ask_again(clinic, lead, monkeypatch):
    monkeypatch.setattr(list_files, "AT_ONCE", -1)
    lead.post("/overdue/?sort=patient", {"kind": "csv"})
    Job.objects.update(state=JobState.FAILED, ended_at=by().at, error="ValueError after 5 tries")
    page = lead.get(f"/jobs/{Job.objects.get().code}/").content.decode()
    assert "was given up: ValueError after 5 tries" in page and 'href="/overdue/?sort=patient"' in page


def test_a_file_is_said_to_be_gone_once_it_was_forgotten(clinic, lead, monkeypatch):
    monkeypatch.setattr(list_files, "AT_ONCE", -1)
    lead.post("/overdue/", {"kind": "csv"})
    jobs.run_due_jobs(limit=1)
    job = Job.objects.get()
    Job.objects.update(ended_at=job.ended_at - jobs.FILES_KEPT * 2)
    jobs.forget_files(job.ended_at)
    assert "The file is not kept any more." in lead.get(f"/jobs/{job.code}/").content.decode()
    assert lead.get(f"/jobs/{job.code}/file/").status_code == 404
