"""The lock of a screen that nobody used for a while: what it keeps, what opens it, and what it never tells."""

from datetime import timedelta
from urllib.parse import quote

import pytest
from django.test import Client
from django.utils import timezone

from caseload.models import Draft, Episode
from caseload.web.staying import SEEN
from tests.web.posting import held
from tests.web.signing import PASSWORD, enter, known, later

pytestmark = pytest.mark.usefixtures("cheap")

UNLOCK = "/sign-in/unlock/"


@pytest.fixture
def episode(clinic) -> Episode:
    return clinic.episode()


@pytest.fixture
def there(clinic, client) -> Client:
    """The therapist, just signed in."""
    enter(client, known(clinic.therapist))
    return client


def test_after_a_quarter_of_an_hour_the_password_is_asked_for_and_leads_back(there):
    begun = timezone.now()
    with later(14.9, begun):
        assert there.get("/caseload/").status_code == 200
    with later(29.8, begun):
        assert there.get("/caseload/?sort=-day").status_code == 200
    with later(44.9, begun):
        assert there.get("/caseload/?sort=-day").url == f"{UNLOCK}?next=%2Fcaseload%2F%3Fsort%3D-day"
        page = there.get(f"{UNLOCK}?next=/caseload/?sort=-day").content.decode()
        assert "Thea Marsh, go on with your password" in page and 'aria-label="Pages"' not in page
        assert there.post(UNLOCK, {"password": PASSWORD, "next": "/caseload/?sort=-day"}).url == "/caseload/?sort=-day"
        assert there.get("/caseload/").status_code == 200


@pytest.mark.parametrize("minutes", [1, 60])
def test_how_long_is_a_setting(there, settings, minutes):
    settings.IDLE_MINUTES = minutes
    with later(minutes + 0.1, timezone.now()):
        assert there.get("/caseload/").url.startswith(UNLOCK)


def test_a_wrong_password_opens_nothing_and_soon_there_are_too_many(there):
    with later(16, timezone.now()):
        answers = [there.post(UNLOCK, {"password": "wrong"}).status_code for _ in range(11)]
        assert answers == [200] * 10 + [429]
        assert there.get("/caseload/").url.startswith(UNLOCK)


@pytest.mark.parametrize("place", ["https://example.org/", "//example.org/", "javascript:alert(1)", "caseload/"])
def test_it_leads_nowhere_else(there, place):
    with later(16, timezone.now()):
        assert there.post(UNLOCK, {"password": PASSWORD, "next": place}).url == "/"


def test_somebody_else_signs_out(there):
    with later(16, timezone.now()):
        assert there.post("/sign-out/").url == "/sign-in/"
        assert there.get("/caseload/").url == "/sign-in/?next=/caseload/"


def test_what_was_typed_meanwhile_stands_there_again(there, episode):
    address = f"/episodes/{episode.code}/visit/"
    sealed = {"ours": _seal(there, address), "note": "typed over lunch"}
    with later(16, timezone.now()):
        assert there.post(address, sealed).url == f"{UNLOCK}?next={address.replace('/', '%2F')}"
        assert "It is kept and stands there again" in there.get(UNLOCK).content.decode()
        there.post(UNLOCK, {"password": PASSWORD, "next": address})
        assert "typed over lunch" in there.get(address).content.decode()


def _seal(client: Client, address: str) -> str:
    page = client.get(address).content.decode()
    return page.partition('name="ours" value="')[2].partition('"')[0]


def test_what_cannot_be_kept_is_said_to_be_undone_and_leads_back_to_its_page(there):
    with later(16, timezone.now()):
        sent = there.post("/to-book/visit/", {"code": "x"}, headers={"Referer": "http://testserver/to-book/?page=2"})
        assert sent.url == f"{UNLOCK}?next=%2Fto-book%2F%3Fpage%3D2"
        assert "do it again" in there.get(UNLOCK).content.decode()


def test_any_other_form_stands_there_again_as_typed_and_is_saved_only_by_its_person(there, clinic, episode):
    address = f"/patients/{episode.patient.code}/contacts/new/"
    typed = held(there.get(address).context["form"]) | {"text": "rang twice, no answer"}
    with later(16, timezone.now()):
        assert there.post(address, typed).url == f"{UNLOCK}?next={quote(address, safe='')}"
        there.post(UNLOCK, {"password": PASSWORD, "next": address})
        page = there.get(address)
        assert "rang twice, no answer" in page.content.decode() and "not saved yet" in page.content.decode()
        assert not episode.patient.contacts.exists()
        assert "rang twice" not in there.get(address).content.decode()


@pytest.mark.parametrize("minutes", [1, 16])
def test_a_form_that_is_left_is_never_carried_out_and_stands_there_again(there, episode, minutes):
    address = f"/patients/{episode.patient.code}/contacts/new/"
    typed = held(there.get(address).context["form"]) | {"how": "phone", "reached": "no-answer", "text": "rang twice"}
    with later(minutes, timezone.now()):
        assert there.post(address, typed | {"leaving": "1"}).status_code == 204
        there.post(UNLOCK, {"password": PASSWORD, "next": address})
        assert "rang twice" in there.get(address).content.decode()
    assert not episode.patient.contacts.exists()


def test_a_page_that_is_left_keeps_what_is_typed_and_saves_nothing(there, clinic, episode):
    address = f"/episodes/{episode.code}/visit/"
    seal = _seal(there, address)
    for minutes, note in ((1, "before"), (16, "after")):
        with later(minutes, timezone.now()):
            assert there.post(address, {"ours": seal, "leaving": "1", "note": note}).status_code == 204
        assert Draft.objects.get(staff=clinic.therapist).body["note"] == [note]
    assert not episode.patient.visits.exists()


def test_a_locked_page_that_asks_by_itself_is_told_so_without_a_page(there):
    with later(16, timezone.now()):
        assert there.get("/caseload/", headers={"Sec-Fetch-Mode": "cors"}).status_code == 401


def test_what_a_page_asks_by_itself_keeps_nobody_signed_in(there):
    begun = timezone.now()
    with later(10, begun):
        there.get("/caseload/?by-itself")
    with later(16, begun):
        assert there.get("/caseload/").url.startswith(UNLOCK)


def test_the_session_is_over_twelve_hours_after_signing_in_however_much_is_done(there, settings):
    settings.IDLE_MINUTES, begun = 12 * 60, timezone.now()
    for hours in range(1, 12):
        with later(hours * 60, begun):
            assert there.get("/help/").status_code == 200
    assert there.session.get_expiry_date() == begun + timedelta(hours=12)
    with later(12 * 60 + 0.1, begun):
        assert there.get("/help/").url == "/sign-in/?next=/help/"


def test_that_a_page_was_used_is_noted_at_most_every_half_minute(there):
    there.get("/rules/")
    seen = there.session[SEEN]
    with later(0.4, timezone.now()):
        there.get("/rules/")
    assert there.session[SEEN] == seen
    with later(0.6, timezone.now()):
        there.get("/rules/")
    assert there.session[SEEN] > seen
