"""A colleague's patient: the page asks for a reason, names nobody, and leads on once one is given."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from caseload.access import Act
from caseload.models import BreakGlass, Episode, Look, Staff, TrailEntry
from tests.scenario import Fernhollow, by

WHY = "On call tonight"


@pytest.fixture
def others(clinic: Fernhollow) -> Episode:
    """An episode of a colleague."""
    colleague = Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True)
    return clinic.episode(therapist=colleague)


@pytest.fixture
def page(others: Episode) -> str:
    return reverse("episode", args=[others.code])


def opened(client: Client, episode: Episode, why: str = WHY, **more: str):
    return client.post(reverse("patient-open", args=[episode.patient.code]), {"why": why, **more})


def test_the_page_asks_for_a_reason_and_names_no_patient(therapist: Client, others: Episode, page: str):
    answer = therapist.get(page)
    text = answer.content.decode()
    assert answer.status_code == 403 and "This is a patient of a colleague" in text
    assert others.patient.family not in text and others.patient.given not in text and "Colin" not in text
    assert not Look.objects.exists()


def test_with_a_reason_the_page_that_was_asked_for_opens(therapist: Client, others: Episode, page: str):
    answer = opened(therapist, others, back=page)
    assert answer.status_code == 302 and answer.url == page
    assert therapist.get(page).status_code == 200


def test_the_reason_is_kept_with_the_act_and_with_each_look(therapist: Client, others: Episode, page: str):
    opened(therapist, others)
    therapist.get(page)
    assert TrailEntry.objects.get(act=Act.PATIENT_OPEN).why == WHY
    assert [look.why for look in Look.objects.filter(patient=others.patient)] == [WHY]


def test_it_opens_for_twelve_hours_and_for_nobody_else(therapist: Client, others: Episode, page: str, sign_in):
    opened(therapist, others)
    third = Staff.objects.create(username="tess", name="Tess Marsh", is_therapist=True)
    assert sign_in(third).get(page).status_code == 403
    with time_machine.travel(by().at + timedelta(hours=12), tick=False):
        assert sign_in(Staff.objects.get(username="thea")).get(page).status_code == 403


@pytest.mark.parametrize("why", ["", "  ", "ab", "x" * 201])
def test_without_a_reason_of_three_to_two_hundred_characters_it_stays_closed(therapist: Client, others: Episode, why):
    assert opened(therapist, others, why).status_code == 422
    assert not BreakGlass.objects.exists()


def test_whose_patient_it_is_needs_no_reason(therapist: Client, clinic: Fernhollow):
    own = clinic.episode()
    assert opened(therapist, own).status_code == 302
    assert not BreakGlass.objects.exists()


def test_no_other_site_is_led_to(therapist: Client, others: Episode):
    assert opened(therapist, others, back="https://example.org/").url == f"/patients/{others.patient.code}/"


def test_what_is_sent_to_a_colleagues_patient_changes_nothing(therapist: Client, others: Episode):
    answer = therapist.post(reverse("contact-new", args=[others.code]), {"how": "phone", "reached": "no-answer"})
    assert answer.status_code == 403 and "Nothing was carried out" in answer.content.decode()
    assert not others.patient.contacts.exists()


def test_history_says_who_opened_the_record_and_why(lead: Client, therapist: Client, others: Episode):
    opened(therapist, others)
    text = lead.get(reverse("patient", args=[others.patient.code])).content.decode()
    assert "opened with a reason" in text and f"Reason: {WHY}" in text


def test_where_the_service_shows_all_nobody_is_asked(therapist: Client, page: str, settings):
    settings.PATIENTS_SEEN = "all"
    assert therapist.get(page).status_code == 200


def test_a_press_sent_twice_opens_once(therapist: Client, others: Episode, page: str):
    key = "6f1f7c3e-6a57-4c0e-9d0a-0d0a8f0c1a11"
    assert [opened(therapist, others, key=key, back=page).url for _ in range(2)] == [page, page]
    assert BreakGlass.objects.count() == 1
