"""The letter from one clinic to another about a patient who was lost: who it is, what was missed, what is still in."""

from datetime import date

import pytest

from caseload.actions import appointments, findings
from caseload.models import Episode, Notice
from caseload.outreach.letters import compose
from tests.scenario import TODAY, Fernhollow, by

SEEN = {"source": "seen", "on": TODAY}


@pytest.fixture
def episode(clinic) -> Episode:
    patient = clinic.patient(given="Rosa", family="Quillfeather", nhs_number="999 000 0018")
    return clinic.episode(patient)


def body(episode: Episode) -> str:
    about = Notice(kind="referrer", channel="letter", patient=episode.patient, episode=episode, due_at=by().at)
    return compose(about).body


def missed(clinic: Fernhollow, episode: Episode, outcome: str, on: date = TODAY) -> None:
    row = episode.follow_ups.get(key="stitches-out")
    appointments.end(clinic.book([row], on), by=by(clinic.admin), outcome=outcome)


def test_it_names_the_patient_the_operation_and_whom_to_ring(episode):
    said = body(episode)
    assert "Rosa Quillfeather, born on 2 January 1960, NHS number 999 000 0018." in said
    assert "Operation: right ring finger, Friday 20 March 2026." in said
    assert "Please ring us on 01632 960100." in said


def test_it_names_every_visit_that_did_not_take_place(clinic, episode):
    missed(clinic, episode, "did-not-attend")
    missed(clinic, episode, "cancelled-by-patient", date(2026, 4, 7))
    parts = body(episode).split("\n\n")
    assert "These visits did not take place, and no new visit is booked:" in parts
    assert "Wednesday 1 April 2026 at 10:20: stitches out. Did not attend." in parts
    assert "Tuesday 7 April 2026 at 09:00: stitches out. Cancelled by the patient." in parts


def test_where_none_was_missed_it_says_that_none_is_booked(episode):
    assert "No visit is booked." in body(episode).split("\n\n")


def test_it_says_that_nobody_was_discharged_and_what_is_still_in(episode):
    assert "The patient has not been discharged. The stitches are not recorded as fully out. 4 stitches" in body(
        episode
    )
    assert "The wound is not recorded as closed." in body(episode)


def test_stitches_that_were_left_are_counted(clinic, episode):
    findings.record(episode, by=by(clinic.therapist), kind="stitches", stitches_out=3, stitches_left=1, **SEEN)
    assert "On Wednesday 1 April 2026 1 stitch was still in." in body(episode)


def test_what_is_settled_is_not_told_as_open(clinic, episode):
    findings.record(episode, by=by(clinic.therapist), kind="stitches", stitches_out=4, stitches_left=0, **SEEN)
    findings.record(episode, by=by(clinic.therapist), kind="wound", wound="closed", **SEEN)
    assert "stitch" not in body(episode) and "wound" not in body(episode)


def test_an_open_red_flag_is_told(clinic, episode):
    findings.record(episode, by=by(clinic.therapist), kind="red-flag", note="spreading redness", **SEEN)
    assert "A warning sign of Wednesday 1 April 2026 is not recorded as dealt with." in body(episode)


def test_what_is_not_known_is_said(clinic):
    said = body(clinic.episode(clinic.patient(born_on=None), surgery_on=None, side="", digit=""))
    assert "born on" not in said and "the day is not known" in said and "hand not known" in said
