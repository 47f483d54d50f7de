"""What a visit leaves on the pages of the episode and the patient; what waits there for a therapist's hand."""

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.actions import findings, visits
from caseload.models import Episode, Visit
from caseload.reads.visit_lines import visits_of
from caseload.timetable.terms import ActivityKind, AfterVisit, Source
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, send
from tests.web.reading import read

REPORT = {
    "kind": "stitches", "on": TODAY, "source": "reported", "reported_by": "Nurse Lind", "stitches_out": 4,
    "stitches_left": 0,
}  # fmt: skip


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode(clinic.patient(given="Nell", family="Harbour"))


def visited(clinic: Fernhollow, *episodes: Episode, **said) -> Visit:
    looks = [
        visits.Look(row, AfterVisit.REVIEW, in_days=14, started=[ActivityKind.LIGHT_TASKS],
                    findings=[{"kind": "wound", "wound": "not-closed"}])
        for row in episodes
    ]  # fmt: skip
    said = {"on": TODAY, "taught": "bending joint by joint"} | said
    return visits.record(episodes[0].patient, by=by(clinic.therapist), looks=looks, **said)


def shown(client: Client, episode: Episode) -> str:
    return read(client.get(f"/episodes/{episode.code}/"))


def test_the_episode_lists_its_visits_and_leads_to_them(clinic: Fernhollow, therapist: Client, episode: Episode):
    visit = visited(clinic, episode)
    text = shown(therapist, episode)
    assert f'<a href="/visits/{visit.code}/">Wed 1 Apr 2026</a><small>day 12</small>' in text
    for said in ("begun: light tasks", "taught: bending joint by joint", "review in 14 days", "Thea Marsh"):
        assert said in text
    assert text.count(f"/visits/{visit.code}/") == 2, "its finding leads there too"


def test_a_visit_of_two_fingers_stands_on_both_pages(clinic: Fernhollow, therapist: Client, episode: Episode):
    index = clinic.episode(episode.patient, digit="index")
    visit = visited(clinic, episode, index)
    assert "also <a" in shown(therapist, episode) and f"/visits/{visit.code}/" in shown(therapist, index)
    text = therapist.get(f"/patients/{episode.patient.code}/").content.decode()
    assert "right index finger: begun: light tasks" in text


def test_a_withdrawn_visit_is_struck_through_with_why(clinic: Fernhollow, therapist: Client, episode: Episode):
    visits.withdraw(visited(clinic, episode), by=by(clinic.therapist), why="the other Harbour")
    text = shown(therapist, episode)
    assert "<s>Wed 1 Apr 2026</s>" in text and "withdrawn: the other Harbour" in text
    assert "<s>review in 14 days (withdrawn)</s>" in text


def test_a_picture_says_that_it_was_one(clinic: Fernhollow, therapist: Client, episode: Episode):
    visited(clinic, episode, source=Source.REPORTED, reported_by="Nurse Lind")
    assert "(Nurse Lind)" in shown(therapist, episode)


def test_visits_cost_two_queries_however_many(clinic: Fernhollow, episode: Episode, django_assert_num_queries):
    for _ in range(4):
        visited(clinic, episode)
    for narrowed in (episode, None):
        with django_assert_num_queries(2):
            assert len(visits_of(episode.patient, episode=narrowed)) == 4


def test_the_pages_stay_as_quick_with_many_visits(clinic: Fernhollow, therapist: Client, episode: Episode):
    asked = []
    for _ in range(3):
        visited(clinic, episode)
        with CaptureQueriesContext(connection) as found:
            shown(therapist, episode)
            therapist.get(f"/patients/{episode.patient.code}/")
        asked.append(len(found))
    assert len(set(asked)) == 1


def test_a_report_says_that_it_waits_for_a_signature(clinic: Fernhollow, therapist: Client, episode: Episode):
    report = findings.record(episode, by=by(clinic.therapist), **REPORT)
    text = shown(therapist, episode)
    assert "To countersign: 4 stitches out, none left" in text, "among the warnings on top"
    assert "to countersign: it opens no gate before" in text
    today = therapist.get("/today/").content.decode()
    assert "To countersign</b>" in today and "HARBOUR, Nell, right ring finger" in today
    findings.countersign(report, by=by(clinic.therapist))
    assert "To countersign" not in shown(therapist, episode) + therapist.get("/today/").content.decode()


def test_a_report_that_was_looked_at_here_since_waits_for_nobody(clinic, therapist: Client, episode: Episode):
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, source="photo", wound="closed")
    assert "To countersign" in therapist.get("/today/").content.decode()
    findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, source="seen", wound="closed")
    assert "To countersign" not in therapist.get("/today/").content.decode() + shown(therapist, episode)


def test_a_red_flag_stands_on_today_though_nothing_is_due(clinic: Fernhollow, therapist: Client):
    episode = clinic.episode(surgery_on=date(2026, 4, 1), suture="absorbable", stitches_in=None)
    findings.record(episode, by=by(clinic.therapist), kind="red-flag", on=TODAY, note="cold and blue")
    text = therapist.get("/today/").content.decode()
    assert "Red flag open</b>" in text and "cold and blue" in text


def test_a_correction_names_the_earlier_finding(clinic: Fernhollow, therapist: Client, episode: Episode):
    first = findings.record(episode, by=by(clinic.therapist), kind="wound", on=TODAY, wound="closed")
    findings.correct(first, by=by(clinic.therapist), wound="not-closed", note="a gap under the crust")
    text = shown(therapist, episode)
    assert "in place of: Wound closed, Wed 1 Apr 2026" in text and "a gap under the crust" in text


def test_a_partial_removal_says_what_it_leaves_locked(clinic: Fernhollow, therapist: Client, episode: Episode):
    findings.record(episode, by=by(clinic.therapist), kind="stitches", on=TODAY, stitches_out=2, stitches_left=2)
    assert "partly out: what waits for the stitches stays locked" in shown(therapist, episode)


def test_a_set_review_is_withdrawn_from_its_row_and_says_what_it_drops(clinic, therapist: Client, episode: Episode):
    review = visited(clinic, episode).examined.get().review
    address = f"/episodes/{episode.code}/reviews/{review.pk}/withdraw/"
    assert address in shown(therapist, episode)
    page = therapist.get(address)
    assert page.context["moves"] == ["Review as set: not needed any more"]
    assert send(therapist, address, page=page).status_code == 302
    assert episode.follow_ups.get(key=f"set-review:r{review.pk}").state == "dropped"
    assert errors(send(therapist, address)) == {"__all__": ["withdrawn-already"]}


@pytest.mark.parametrize("name", ["instructions/new", "reviews/new", "follow-ups/outcome-review/done"])
def test_with_a_namesake_the_birth_date_is_confirmed(clinic: Fernhollow, therapist: Client, episode: Episode, name):
    clinic.episode(clinic.patient(given="Nell", family="Harbour", born_on=date(1971, 2, 3)))
    answer = send(therapist, f"/episodes/{episode.code}/{name}/", in_days="14", item="driving", from_day="9", why="x")
    assert errors(answer)["birth_date_confirmed"] == ["required"]
