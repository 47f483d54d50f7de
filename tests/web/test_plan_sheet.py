"""The plan sheet's page, what stands above it for staff, and the file that is made in the background."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from caseload.actions import findings, jobs
from caseload.models import Episode, Job, Look, Site, TrailEntry
from caseload.outreach import pdf
from tests.scenario import TODAY, by
from tests.web.reading import read


def page_of(client, episode: Episode) -> str:
    return read(client.get(reverse("plan-sheet", args=[episode.code])))


@pytest.fixture
def with_pdf(monkeypatch):
    monkeypatch.setattr(pdf, "available", lambda: True)
    monkeypatch.setattr(pdf, "make_pdf", lambda page: b"%PDF-made")


def asked(client, episode: Episode, key: str = "") -> str:
    """The address of the job."""
    answer = client.post(reverse("plan-sheet-file", args=[episode.code]), {"key": key or str(uuid4())})
    assert answer.status_code == 302
    return answer["Location"]


def test_the_page_holds_the_sheet_and_reminds_to_read_it_through(clinic, therapist):
    page = page_of(therapist, clinic.episode())
    assert "Plan for your hand" in page and "Get medical help at once for" in page
    assert "the planner proposes, people decide" in page
    assert Look.objects.filter(route="plan-sheet", by=clinic.therapist).count() == 1


def test_the_episode_leads_to_it(clinic, therapist):
    episode = clinic.episode()
    address = reverse("plan-sheet", args=[episode.code])
    assert address in therapist.get(reverse("episode", args=[episode.code])).content.decode()


def test_staff_are_told_what_to_mind(clinic, admin):
    Site.objects.filter(pk=clinic.site.pk).update(telephone="")
    patient = clinic.patient(given="Ada", family="Larch", born_on=None, language="Welsh")
    clinic.episode(clinic.patient(given="Ada", family="Larch"))
    page = page_of(admin, clinic.episode(patient))
    for said in (
        "The birth date is not known", "Nothing is booked for this finger", "Some days may change",
        "Fernhollow has no telephone number here", "Preferred language: Welsh", "Same name on the caseload",
    ):  # fmt: skip
        assert said in page


def test_a_sheet_beside_an_open_red_flag_is_to_be_checked_first(clinic, therapist):
    episode = clinic.episode()
    assert "A red flag is open" not in page_of(therapist, episode)
    findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="spreading redness")
    page = page_of(therapist, episode)
    assert page.index("Check before it goes out") < page.index("A red flag is open, and the sheet knows nothing of it.")


def test_a_visit_that_the_patient_was_not_told_of_is_to_be_said_now(clinic, admin):
    episode = clinic.episode()
    visit = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    type(visit).objects.filter(pk=visit.pk).update(told="untold", untold_since_on=TODAY)
    assert "Not told yet of Thu 2 Apr 2026, 09:00: say it now, and record it." in page_of(admin, episode)


def test_a_closed_episode_answers_with_the_reason(clinic, therapist):
    episode = clinic.episode()
    Episode.objects.filter(pk=episode.pk).update(ended_on=TODAY, ended_how="died")
    answer = therapist.get(reverse("plan-sheet", args=[episode.code]))
    assert answer.status_code == 409 and "episode is closed" in answer.content.decode()


def test_without_the_extra_there_is_no_button_but_a_way_to_print(clinic, therapist, monkeypatch):
    monkeypatch.setattr(pdf, "available", lambda: False)
    episode = clinic.episode()
    page = page_of(therapist, episode)
    assert "Make a PDF" not in page and "Print to a file there" in page
    answer = therapist.post(reverse("plan-sheet-file", args=[episode.code]), {"key": str(uuid4())})
    assert answer.status_code == 409 and not Job.objects.exists()


def test_the_file_is_asked_for_made_and_fetched(clinic, therapist, with_pdf):
    episode = clinic.episode()
    job = asked(therapist, episode)
    waiting = therapist.get(job)
    assert waiting["Refresh"] == "2; url=?by-itself" and "Look again" in waiting.content.decode()
    jobs.run_due_jobs(limit=5)
    ready = therapist.get(job)
    assert "Refresh" not in ready and "The plan sheet is ready" in ready.content.decode()
    file = therapist.get(f"{job}file/")
    assert (file.content, file["Content-Type"]) == (b"%PDF-made", "application/pdf")
    assert file["Content-Disposition"] == 'attachment; filename="plan-sheet.pdf"'
    assert "no-store" in file["Cache-Control"]
    assert Look.objects.filter(route="job-file", patient=episode.patient).count() == 1
    assert TrailEntry.objects.filter(act="plan-sheet.make", patient=episode.patient).count() == 1


def test_only_who_asked_finds_it(clinic, therapist, admin, with_pdf):
    job = asked(therapist, clinic.episode())
    jobs.run_due_jobs(limit=5)
    assert [admin.get(address).status_code for address in (job, f"{job}file/")] == [404, 404]


def test_a_double_click_asks_once(clinic, therapist, with_pdf):
    episode, key = clinic.episode(), str(uuid4())
    assert asked(therapist, episode, key) == asked(therapist, episode, key)
    assert Job.objects.filter(kind="plan-sheet").count() == 1


def test_a_file_that_is_not_there_is_said_in_words(clinic, therapist, with_pdf):
    job = asked(therapist, clinic.episode())
    assert therapist.get(f"{job}file/").status_code == 404
    jobs.run_due_jobs(limit=5)
    made = Job.objects.get(kind="plan-sheet")
    made.file.delete()
    Job.objects.filter(pk=made.pk).update(ended_at=made.ended_at - timedelta(days=1, hours=1))
    assert "The file is not kept any more" in therapist.get(job).content.decode()
    Job.objects.filter(pk=made.pk).update(state="failed")
    assert "could not be carried out" in therapist.get(job).content.decode()


def test_the_page_stops_looking_by_itself(clinic, therapist, with_pdf):
    job = asked(therapist, clinic.episode())
    made = Job.objects.get(kind="plan-sheet")
    Job.objects.filter(pk=made.pk).update(created_at=made.created_at - timedelta(minutes=2))
    assert "Refresh" not in therapist.get(job)
