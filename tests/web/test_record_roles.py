"""Who may do what on the pages of the record: the door says so in a sentence, and the button is not shown."""

import pytest
from django.test import Client
from django.urls import reverse

from caseload.access import ALLOWED, Act
from caseload.timetable.terms import Owner
from tests.scenario import TODAY, Fernhollow

CLINICAL = {
    "visit-new": Act.VISIT_RECORD, "review-new": Act.REVIEW_SET, "instruction-new": Act.INSTRUCTION_GIVE,
    "episode-close": Act.EPISODE_CLOSE, "episode-reopen": Act.EPISODE_REOPEN,
}  # fmt: skip
ANYBODY = ("episode-correct", "appointment-new", "contact-new")


@pytest.mark.parametrize(("name", "act"), CLINICAL.items())
def test_an_admin_is_told_who_may(admin: Client, clinic: Fernhollow, name: str, act: Act):
    assert Owner.ADMIN not in ALLOWED[act]
    address = reverse(name, args=[clinic.episode().code])
    for answer in (admin.get(address), admin.post(address, {"on": "today"})):
        assert answer.status_code == 403
        assert "This needs the role of lead or therapist" in answer.content.decode()


def test_an_admin_cannot_record_a_visit(admin: Client, clinic: Fernhollow):
    episode = clinic.episode()
    admin.post(f"/episodes/{episode.code}/visit/", {"on": "today", "source": "seen", "d1_wound": "closed"})
    assert not episode.findings.exists()


def test_the_page_shows_an_admin_only_what_an_admin_may_do(admin: Client, clinic: Fernhollow):
    text = admin.get(f"/episodes/{clinic.episode().code}/").content.decode()
    assert "Book an appointment" in text and "Record a visit" not in text and "Close the episode" not in text


@pytest.mark.parametrize("name", ANYBODY)
def test_everybody_may_correct_book_and_log(admin: Client, therapist: Client, lead: Client, clinic: Fernhollow, name):
    address = reverse(name, args=[clinic.episode().code])
    assert [client.get(address).status_code for client in (admin, therapist, lead)] == [200, 200, 200]


def test_a_lead_who_is_no_therapist_countersigns_nothing(lead: Client, clinic: Fernhollow):
    episode = clinic.episode()
    assert lead.post(f"/episodes/{episode.code}/findings/1/countersign/").status_code == 403


def test_nobody_who_is_not_signed_in_sees_a_record(clinic: Fernhollow, client: Client):
    episode = clinic.episode()
    for address in (f"/episodes/{episode.code}/", f"/patients/{episode.patient.code}/", "/patients/new/"):
        answer = client.get(address)
        assert answer.status_code == 302 and answer.url.startswith("/sign-in/")


def test_a_form_without_its_token_is_refused(clinic: Fernhollow):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(clinic.therapist)
    answer = strict.post(f"/episodes/{clinic.episode().code}/visit/", {"on": str(TODAY), "d1_wound": "closed"})
    assert answer.status_code == 403
