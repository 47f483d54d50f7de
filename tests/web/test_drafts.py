"""Nothing typed is lost: kept as it is sent, kept past a time-out, read by nobody else, forgotten once it is saved."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core import signing
from django.http import QueryDict
from django.test import Client

from caseload.actions import drafts
from caseload.models import Draft, Staff
from caseload.web.drafts import SALT
from tests.scenario import Fernhollow

AT = datetime(2026, 4, 1, 9, tzinfo=UTC)
PLACE = "/episodes/abc/visit/"


def sent(text: str) -> dict[str, list[str]]:
    return dict(QueryDict(text).lists())


def seal(staff: Staff, place: str) -> str:
    return signing.dumps([staff.pk, place], salt=SALT)


def test_what_was_typed_is_kept_without_what_belongs_to_one_sending(clinic):
    drafts.keep(
        clinic.therapist, PLACE, sent("note=red&meets=a&meets=b&d1_seen=1-2-3-4&key=x&sure=y&ours=z&live=1"), AT
    )
    kept = drafts.kept(clinic.therapist, PLACE)
    assert kept and kept.body == {"note": ["red"], "meets": ["a", "b"], "d1_seen": ["1-2-3-4"]}


def test_the_last_sending_stands(clinic):
    for text in ("note=one", "note=two"):
        drafts.keep(clinic.therapist, PLACE, sent(text), AT)
    assert Draft.objects.get().body == {"note": ["two"]}


def test_nobody_else_reads_it(clinic):
    drafts.keep(clinic.therapist, PLACE, sent("note=mine"), AT)
    assert drafts.kept(clinic.lead, PLACE) is None
    drafts.forget(clinic.lead, PLACE)
    assert drafts.kept(clinic.therapist, PLACE)


@pytest.mark.parametrize(("place", "size"), [(PLACE, drafts.LARGEST), ("/" * (drafts.LONGEST_PLACE + 1), 1)])
def test_what_is_too_much_is_not_kept(clinic, place, size):
    assert not drafts.keep(clinic.therapist, place, {"note": ["ä" * size]}, AT)
    assert not Draft.objects.exists()


def test_it_is_forgotten_after_seven_days_and_not_before(clinic):
    drafts.keep(clinic.therapist, PLACE, sent("note=old"), AT)
    drafts.forget_old(AT + timedelta(days=7))
    assert Draft.objects.exists()
    drafts.forget_old(AT + timedelta(days=7, seconds=1))
    assert not Draft.objects.exists()


@pytest.fixture
def address(clinic: Fernhollow) -> str:
    return f"/episodes/{clinic.episode().code}/correct/"


@pytest.mark.parametrize("wrong", ["", "x", "place", "salt", "old", "gone"])
def test_without_a_seal_of_this_page_nothing_is_kept_for_nobody(clinic, address, wrong):
    ours = {
        "": "", "x": "x", "place": seal(clinic.therapist, PLACE),
        "salt": signing.dumps([clinic.therapist.pk, address], salt="other"),
        "old": seal(clinic.therapist, address), "gone": seal(clinic.therapist, address),
    }[wrong]  # fmt: skip
    if wrong == "gone":
        Staff.objects.filter(pk=clinic.therapist.pk).update(is_active=False)
    with_age = AT + timedelta(hours=25) if wrong == "old" else AT
    with time_machine.travel(with_age, tick=False):
        answer = Client().post(address, {"note": "typed", "ours": ours})
    assert answer.status_code == 302 and not Draft.objects.exists()


def test_a_seal_of_the_page_keeps_what_a_signed_out_person_sent(clinic, address):
    answer = Client().post(address, {"note": "typed", "ours": seal(clinic.therapist, address)})
    assert answer.url == f"/sign-in/?next={address}"
    assert Draft.objects.get().staff == clinic.therapist


def test_the_seal_saves_no_form_from_another_site(clinic, address):
    client = Client(enforce_csrf_checks=True)
    answer = client.post(address, {"note": "typed", "ours": seal(clinic.therapist, address)})
    assert answer.status_code == 403 and not Draft.objects.exists()


def test_who_signed_in_again_meanwhile_finds_it_on_the_page(clinic, address):
    client = Client(enforce_csrf_checks=True)
    client.force_login(clinic.therapist)
    answer = client.post(address, {"note": "typed", "ours": seal(clinic.therapist, address)})
    assert (answer.status_code, answer.url) == (302, address)
    assert Draft.objects.get().body == {"note": ["typed"]}


def test_who_signed_in_instead_of_somebody_else_leaves_nothing(clinic, address):
    client = Client(enforce_csrf_checks=True)
    client.force_login(clinic.lead)
    assert client.post(address, {"note": "typed", "ours": seal(clinic.therapist, address)}).status_code == 403
    assert not Draft.objects.exists()


def test_a_draft_is_thrown_away(clinic, therapist):
    drafts.keep(clinic.therapist, "/today/", sent("note=old"), AT)
    assert therapist.post("/drafts/throw-away/", {"back": "/today/"}).url == "/today/"
    assert not Draft.objects.exists()
    assert therapist.get("/drafts/throw-away/").status_code == 405
