"""At the door of an act: a therapist touches no patient out of reach, and no act makes somebody's own what was not."""

from dataclasses import replace
from datetime import date
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, contacts, episodes, patients, reach, visits, walk_ins
from caseload.models import Episode, Staff, Submission, TrailEntry
from caseload.timetable.terms import AfterVisit
from tests.record.refusing import refused
from tests.scenario import TODAY, Fernhollow, by


@pytest.fixture
def colleague(clinic: Fernhollow) -> Staff:
    return Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True)


@pytest.fixture
def others(clinic: Fernhollow, colleague: Staff) -> Episode:
    return clinic.episode(therapist=colleague)


def test_an_act_on_a_colleagues_patient_is_refused_and_undone(clinic, others):
    once = replace(by(clinic.therapist), key=uuid4())
    assert refused(lambda: contacts.log(others.patient, by=once, how="phone", reached="no-answer")) == "not-yours"
    assert not others.patient.contacts.exists() and not Submission.objects.exists()


def test_nobody_makes_a_patient_theirs_by_an_act(clinic, others):
    mine = by(clinic.therapist)
    assert refused(lambda: episodes.correct(others, by=mine, version=None, therapist=clinic.therapist)) == "not-yours"
    row, session = others.follow_ups.get(key="stitches-out"), clinic.session(date(2026, 4, 2))
    assert refused(lambda: appointments.book([row], by=mine, session=session, start=540)) == "not-yours"


def test_whom_a_value_or_a_list_is_about_is_asked_too(clinic, others):
    mine, own = by(clinic.therapist), clinic.episode()
    look = visits.Look(others, AfterVisit.REVIEW, in_days=14)
    assert refused(lambda: visits.record(own.patient, by=mine, on=TODAY, looks=[look])) == "not-yours"
    row = others.follow_ups.get(key="stitches-out")
    assert refused(lambda: walk_ins.see([row], by=mine)) == "not-yours"


def test_ones_own_patient_is_handed_over(clinic, colleague):
    episode = clinic.episode()
    episodes.correct(episode, by=by(clinic.therapist), version=None, therapist=colleague)
    assert Episode.objects.get(pk=episode.pk).therapist == colleague


def test_a_patient_is_added_and_an_episode_opened_for_a_colleague(clinic, colleague):
    mine = by(clinic.therapist)
    new = patients.add(given="Ivo", family="Harrow", by=mine)
    opened = episodes.open_episode(new, by=mine, site=clinic.site, therapist=colleague)
    assert refused(lambda: episodes.correct(opened, by=mine, version=None, surgeon="Dr Vane")) == "not-yours"


def test_with_a_reason_it_is_done_and_the_trail_has_the_reason(clinic, others):
    mine = by(clinic.therapist)
    reach.open_with_reason(others.patient, why="  on call\ttonight ", by=mine)
    contacts.log(others.patient, by=mine, how="phone", reached="no-answer")
    opened = TrailEntry.objects.get(act="patient.open")
    assert (opened.why, opened.patient) == ("on call tonight", others.patient)


def test_a_reason_of_blanks_is_none(clinic, others):
    assert refused(lambda: reach.open_with_reason(others.patient, why=" \n ", by=by(clinic.therapist))) == "why-missing"


def test_whose_patient_it_is_costs_a_therapist_one_query_and_nobody_else_any(clinic, others, settings):
    def asked(staff: Staff | None, patient) -> int:
        with CaptureQueriesContext(connection) as queries:
            contacts.log(patient, by=by(staff), how="phone", reached="no-answer")
        return len(queries)

    own = clinic.episode().patient
    plain = asked(clinic.admin, own)
    assert asked(clinic.lead, others.patient) == plain
    assert asked(clinic.therapist, own) == plain + 1
    settings.PATIENTS_SEEN = "all"
    assert asked(clinic.therapist, others.patient) == plain
