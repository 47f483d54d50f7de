"""Whom somebody reaches: a therapist their own, an admin and a lead all."""

from datetime import date, datetime, timedelta
from typing import NamedTuple

import pytest

from caseload.actions import absences, referrals
from caseload.models import BreakGlass, Episode, Patient, Staff, Standing
from caseload.reads import reach
from caseload.reads.reach import (
    few_within,
    limits_of,
    many_seen_by,
    open_parts,
    open_seen_by,
    sees_all,
    unreached,
    within,
)
from tests.scenario import TODAY, by


class Reader(NamedTuple):
    staff: Staff | None
    at: datetime


def reached(staff, patient_id, at) -> bool:
    """Asked in each way: about one patient, of a list of open episodes, and of rows that are counted in parts."""
    open_now = Episode.objects.filter(patient=patient_id, ended_on__isnull=True)
    alone, listed = reach.reached(staff, patient_id, at), open_seen_by(Reader(staff, at), open_now).count()
    assert listed == (open_now.count() if alone else 0)
    assert many_seen_by(Reader(staff, at), Patient.objects.filter(pk=patient_id), "pk").exists() is alone
    standings = Standing.objects.filter(episode__in=open_now)
    limits = limits_of(Reader(staff, at))
    assert limits is None or few_within(Patient.objects.filter(pk=patient_id), limits).exists() is alone
    parts = [row.pk for part in (open_parts(standings, limits) if limits else [standings]) for row in part]
    assert sorted(parts) == sorted(row.pk for row in standings if alone)
    return alone


@pytest.fixture
def colleague(clinic):
    return Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True)


@pytest.fixture
def others(clinic, colleague):
    """A patient of a colleague."""
    return clinic.episode(therapist=colleague).patient


def test_a_therapist_reaches_their_own_and_not_a_colleagues(clinic, others):
    own = clinic.episode().patient
    assert reached(clinic.therapist, own.pk, by().at) and not reached(clinic.therapist, others.pk, by().at)


def test_admins_leads_and_the_planner_reach_all(clinic, others):
    assert all(reached(staff, others.pk, by().at) for staff in (clinic.admin, clinic.lead, None))


def test_a_therapist_who_is_lead_too_reaches_all(clinic, others):
    clinic.therapist.is_lead = True
    assert reached(clinic.therapist, others.pk, by().at)


def test_all_are_reached_where_the_service_says_so(clinic, others, settings):
    settings.PATIENTS_SEEN = "all"
    assert sees_all(clinic.therapist) and reached(clinic.therapist, others.pk, by().at)


def test_who_has_no_therapist_is_everybodys(clinic, colleague):
    shared = clinic.episode(therapist=None)
    assert reached(clinic.therapist, shared.patient_id, by().at)
    assert reached(clinic.therapist, clinic.patient().pk, by().at)
    clinic.episode(shared.patient, digit="little", therapist=colleague)
    assert not reached(clinic.therapist, shared.patient_id, by().at)


def test_whose_episodes_are_all_closed_stays_with_those_who_had_them(clinic, colleague):
    closed = clinic.episode(therapist=colleague)
    Episode.objects.update(ended_on=TODAY, ended_how="discharged")
    assert reached(colleague, closed.patient_id, by().at) and not reached(clinic.therapist, closed.patient_id, by().at)


def test_a_referral_that_waits_for_an_episode_makes_a_former_patient_everybodys(clinic, colleague, others):
    Episode.objects.update(ended_on=TODAY, ended_how="discharged")
    referrals.add(others, received_on=TODAY, source="A ward", by=by(clinic.admin))
    assert reached(clinic.therapist, others.pk, by().at)


def test_each_question_is_one_query_and_none_where_all_are_reached(clinic, others, django_assert_num_queries):
    with django_assert_num_queries(1):
        reach.reached(clinic.therapist, others.pk, by().at)
    with django_assert_num_queries(1):
        list(within(Episode.objects.all(), clinic.therapist, by().at))
    with django_assert_num_queries(0):
        reach.reached(clinic.lead, others.pk, by().at)


def test_who_covers_for_a_cover_who_is_away_too_reaches_further(clinic, colleague, others):
    third = Staff.objects.create(username="tess", name="Tess Marsh", is_therapist=True)
    days = {"starts_on": TODAY, "ends_on": TODAY, "by": by(clinic.lead), "reason": "leave"}
    absences.add_absence(therapist=colleague, cover=third, **days)
    absences.add_absence(therapist=third, cover=clinic.therapist, **days)
    assert reached(clinic.therapist, others.pk, by().at)


def test_an_appointment_in_ones_session_reaches_until_a_week_after_it(clinic, others):
    row = others.episodes.get().follow_ups.get(key="stitches-out")
    clinic.book([row], date(2026, 4, 2))
    assert reached(clinic.therapist, others.pk, by().at)
    assert reached(clinic.therapist, others.pk, by(today=date(2026, 4, 9)).at)
    assert not reached(clinic.therapist, others.pk, by(today=date(2026, 4, 10)).at)


def test_who_covers_reaches_what_is_the_absent_ones(clinic, colleague, others):
    days = {"starts_on": TODAY, "ends_on": TODAY + timedelta(days=2)}
    absences.add_absence(therapist=colleague, by=by(clinic.lead), reason="leave", cover=clinic.therapist, **days)
    assert reached(clinic.therapist, others.pk, by().at)
    assert not reached(clinic.therapist, others.pk, by(today=TODAY + timedelta(days=3)).at)


def test_a_reason_holds_until_its_time_is_over(clinic, others):
    at = by().at
    until = at + timedelta(hours=12)
    BreakGlass.objects.create(by=clinic.therapist, patient=others, at=at, until_at=until, why="seen for Colin")
    assert reached(clinic.therapist, others.pk, at) and not reached(clinic.therapist, others.pk, until)


def test_rows_are_kept_to_whom_one_reaches_and_a_query_is_left_alone_where_all_are(clinic, others):
    own = clinic.episode().patient
    assert list(within(Patient.objects.all(), clinic.therapist, by().at, "pk")) == [own]
    assert unreached(clinic.therapist, {own.pk, others.pk}, by().at) == {others.pk}
    every = Patient.objects.all()
    assert within(every, clinic.admin, by().at, "pk") is every


def test_whose_therapist_has_left_is_everybodys_while_an_episode_is_open(clinic, colleague, others):
    Staff.objects.filter(pk=colleague.pk).update(is_active=False)
    assert reached(clinic.therapist, others.pk, by().at)
