"""The page of the trail: read by leads, filtered, a page at a time, taken away as files, and recorded itself."""

import csv
import json
from datetime import timedelta
from io import StringIO

import pytest

from caseload.actions import findings, jobs, trail_files
from caseload.actions.looks import looked
from caseload.actions.sealing import SETTLING, seal
from caseload.actions.triggers import remove
from caseload.models import BreakGlass, Job, JobFile, Look, TrailEntry
from tests.record.before import FLAG
from tests.scenario import by


def text(answer) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.fixture
def episode(clinic):
    """A record that a therapist wrote in and looked at with a reason, beside another one."""
    clinic.episode()
    episode = clinic.episode()
    findings.record(episode, by=by(clinic.therapist), **FLAG)
    Look.objects.create(at=by().at, by=clinic.therapist, patient=episode.patient, route="episode", why="rang at night")
    return episode


def rows(page: str) -> int:
    return max(page.count("<tr>") - 1, 0)


def test_who_did_what_when_from_where_and_why_stands_there(lead, episode):
    TrailEntry.objects.create(
        at=by().at, act="patient.open", patient=episode.patient, origin="192.0.2.7", why="on call"
    )
    page = text(lead.get("/trail/"))
    for said in (
        "finding recorded",
        "Thea Marsh",
        "opened with a reason",
        "192.0.2.7",
        "on call",
        "looked at: episode",
    ):
        assert said in page
    assert str(episode.patient) in page and "the planner" in page


def test_only_a_lead_reads_it(admin, therapist):
    assert [each.get("/trail/").status_code for each in (admin, therapist)] == [403, 403]


def test_reading_it_is_recorded_and_so_is_reading_it_of_one_patient(lead, clinic, episode):
    shown = rows(text(lead.get("/trail/")))
    assert Look.objects.get(route="trail", by=clinic.lead).rows == shown
    lead.get(f"/trail/?patient={episode.patient.code}")
    assert Look.objects.filter(route="trail", patient=episode.patient).count() == 1


def test_it_is_filtered_by_person_patient_act_kind_reason_and_day(lead, clinic, episode):
    def shown(query: str) -> int:
        return rows(text(lead.get(f"/trail/?{query}")))

    of = TrailEntry.objects.filter(patient=episode.patient).count() + 1
    assert shown(f"patient={episode.patient.code}") == of
    assert shown(f"who={clinic.therapist.code}") == 2
    assert shown("act=finding.record") == shown("what=reasons") == 1
    assert shown("first=2026-04-02") == 0
    assert shown("last=2026-03-31") == 0
    assert shown("first=2026-04-01&last=2026-04-01&what=entries") == TrailEntry.objects.count()


def test_pages_hold_every_row_once_in_order(lead, clinic, episode):
    TrailEntry.objects.bulk_create(
        TrailEntry(at=by().at - timedelta(minutes=n % 7), act="visit.record", origin=f"192.0.2.{n}") for n in range(90)
    )
    Look.objects.bulk_create(
        Look(at=by().at, by=clinic.lead, route="today", origin=f"198.51.100.{n}") for n in range(40)
    )
    address, seen, times = "/trail/?last=2026-04-01", [], []
    while address:
        answer = lead.get(address)
        seen += [line.origin for line in answer.context["lines"] if line.origin.startswith(("192", "198"))]
        times += [line.at for line in answer.context["lines"]]
        address = f"/trail/{answer.context['older']}" if answer.context["older"] else ""
    assert len(seen) == len(set(seen)) == 130
    assert times == sorted(times, reverse=True)


def test_how_far_it_is_sealed_and_what_the_latest_check_found_stand_there(lead, clinic, episode):
    assert "Nothing is sealed yet" in text(lead.get("/trail/"))
    block = seal(by().at + SETTLING)
    assert "Check" in text(lead.post("/trail/check/", follow=True))
    jobs.run_due_jobs(limit=5)
    page = text(lead.get("/trail/"))
    assert f"Sealed up to block {block.number}" in page and "everything fits" in page


def test_a_trail_that_was_altered_says_so_in_words(lead, clinic, episode):
    seal(by().at + SETTLING)
    remove()
    row = TrailEntry.objects.order_by("id").first()
    TrailEntry.objects.filter(pk=row.pk).update(act="forged")
    trail_files.check_nightly(by().at)
    jobs.run_due_jobs(limit=5)
    page = text(lead.get("/trail/"))
    assert "The trail is not what was sealed." in page and f"act {row.pk} is not as it was sealed" in page


def test_it_is_taken_away_as_audit_events_and_that_is_recorded(lead, clinic, episode):
    answer = lead.post(f"/trail/?patient={episode.patient.code}", {"kind": "json"})
    events = [json.loads(line) for line in answer.content.decode().splitlines()]
    assert {event["resourceType"] for event in events} == {"AuditEvent"} and answer["Content-Type"].endswith("ndjson")
    assert all(event["entity"][0]["what"]["reference"] == f"Patient/{episode.patient.code}" for event in events)
    assert episode.patient.family not in answer.content.decode()
    assert Look.objects.get(route="trail-file").rows == len(events)


def test_as_a_table_it_has_a_row_for_each(lead, clinic, episode):
    answer = lead.post("/trail/?what=entries", {"kind": "csv"})
    table = list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"))))
    assert len(table) == TrailEntry.objects.count()
    assert {row["Action"] for row in table} <= {"C", "R", "U", "D", "E"}


def test_many_rows_are_a_job_that_holds_those_of_when_it_was_asked_for(lead, clinic, episode, monkeypatch):
    monkeypatch.setattr("caseload.web.views.trail.AT_ONCE", 3)
    monkeypatch.setattr(trail_files, "AT_ONCE", 2)
    looked(episode.patient, by=by(clinic.lead), route="episode")
    TrailEntry.objects.bulk_create(TrailEntry(at=by().at + timedelta(days=1), act="x") for _ in range(5))
    answer = lead.post("/trail/", {"kind": "csv"})
    job = Job.objects.get(kind="trail-file")
    jobs.run_due_jobs(limit=5)
    there = TrailEntry.objects.filter(at__lte=by().at).count() + Look.objects.count()
    assert answer.url == f"/jobs/{job.code}/" and f"{there} rows are in the file." in text(lead.get(answer.url))
    assert bytes(JobFile.objects.get().content).decode("utf-8-sig").count("\r\n") == there + 1


def test_more_than_a_file_holds_is_refused_with_what_to_do(lead, clinic, episode, monkeypatch):
    monkeypatch.setattr(trail_files, "MOST", 2)
    answer = lead.post("/trail/", {"kind": "csv"})
    assert answer.status_code == 409 and "Ask for fewer days" in answer.content.decode()
    assert lead.post("/trail/", {"kind": "pdf"}).status_code == 400


def test_a_patients_page_leads_to_their_trail_for_a_lead_only(lead, admin, episode):
    address = f"/patients/{episode.patient.code}/"
    link = f"/trail/?patient={episode.patient.code}"
    assert (link in text(lead.get(address)), link in text(admin.get(address))) == (True, False)
    assert not BreakGlass.objects.exists()
