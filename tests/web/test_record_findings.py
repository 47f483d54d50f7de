"""Findings through their forms: corrected, withdrawn, countersigned."""

from typing import Any

import pytest
from django.test import Client

from caseload.actions import findings
from caseload.models import Episode, Finding
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, send


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode(clinic.patient(given="Nell", family="Harbour"))


def found(episode: Episode, clinic: Fernhollow, **said: Any) -> Finding:
    own = {"kind": "wound", "wound": "closed"} if "kind" not in said else {}
    return findings.record(episode, by=by(clinic.therapist), on=TODAY, **(own | said))


def test_a_correction_leaves_the_earlier_finding_readable(therapist: Client, clinic: Fernhollow, episode: Episode):
    first = found(episode, clinic)
    send(therapist, f"/episodes/{episode.code}/findings/{first.pk}/correct/", wound="not-closed", note="a gap")
    text = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert "<s>Wound closed</s>" in text and "<b>Wound not closed</b>, a gap" in text
    assert "corrected by Thea Marsh" in text


def test_a_finding_is_corrected_once(therapist: Client, clinic: Fernhollow, episode: Episode):
    first = found(episode, clinic)
    correct = f"/episodes/{episode.code}/findings/{first.pk}/correct/"
    send(therapist, correct, wound="not-closed")
    assert errors(send(therapist, correct, wound="concern")) == {"__all__": ["corrected-already"]}


def test_a_withdrawn_finding_stays_with_its_reason(therapist: Client, clinic: Fernhollow, episode: Episode):
    first = found(episode, clinic)
    withdraw = f"/episodes/{episode.code}/findings/{first.pk}/withdraw/"
    assert errors(send(therapist, withdraw, why="  ")) == {"why": ["required"]}
    send(therapist, withdraw, why="recorded for the other hand")
    text = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert "<s>Wound closed</s>" in text and "withdrawn by Thea Marsh" in text and "the other hand" in text


def test_a_report_opens_its_gate_when_countersigned(therapist: Client, clinic: Fernhollow, episode: Episode):
    report = {"source": "reported", "reported_by": "Nurse Lind", "stitches_out": 4, "stitches_left": 0}
    finding = found(episode, clinic, kind="stitches", **report)
    page = therapist.get(f"/episodes/{episode.code}/")
    assert "Countersign" in page.content.decode()
    answer = therapist.post(f"/episodes/{episode.code}/findings/{finding.pk}/countersign/")
    assert answer.status_code == 302
    assert "countersigned by Thea Marsh" in therapist.get(f"/episodes/{episode.code}/").content.decode()


def test_a_finding_of_another_episode_is_not_found(therapist: Client, clinic: Fernhollow, episode: Episode):
    finding, other = found(episode, clinic), clinic.episode()
    assert therapist.get(f"/episodes/{other.code}/findings/{finding.pk}/correct/").status_code == 404
