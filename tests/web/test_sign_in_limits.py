"""Too many tries, forgotten passwords, what the trail says of them, and that nothing tells who is known here."""

from collections.abc import Iterator

import pytest
from allauth import __file__ as library
from django.core import mail
from django.template import Template
from django.test import Client
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from caseload.models import TrailEntry
from caseload.outreach import sign_in_mail
from caseload.web.routes_sign_in import sign_in_pages
from tests.signed_in import session_of
from tests.web.signing import PASSWORD, enter, known, later, trail, with_app

pytestmark = pytest.mark.usefixtures("cheap")

FORGOTTEN = "/sign-in/forgotten/"


@pytest.fixture
def mailed(settings, monkeypatch) -> list[mail.EmailMessage]:
    """What was sent, at once instead of beside the page."""

    class AtOnce:
        def __init__(self, target, args, daemon) -> None:
            self.start = lambda: target(*args)

    monkeypatch.setattr(sign_in_mail, "Thread", AtOnce)
    settings.MAIL_URL = "smtp://mail.example.org:25"
    return mail.outbox


def words(page) -> str:
    """A page without what differs each time."""
    text = page.content.decode()
    return " ".join(part.partition('"')[2] for part in text.split('name="csrfmiddlewaretoken" value="'))


def tries(name: str, times: int) -> Iterator:
    client = Client()
    for _ in range(times):
        yield client.post("/sign-in/", {"username": name, "password": "wrong"})


def test_after_ten_wrong_passwords_a_name_has_to_wait_known_or_not(clinic):
    said = {}
    for name in ("thea", "nobody-here"):
        answers = list(tries(name, 12))
        assert [answer.status_code for answer in answers] == [200] * 10 + [429] * 2
        said[name] = [words(answer).replace(name, "?") for answer in answers]
    assert said["thea"] == said["nobody-here"]
    assert "Wait a quarter of an hour" in said["thea"][-1]


def test_the_right_password_waits_too_and_then_does(clinic):
    known(clinic.therapist)
    list(tries("thea", 10))
    assert enter(Client(), clinic.therapist).status_code == 429
    with later(15.1, timezone.now()):
        assert enter(Client(), clinic.therapist).status_code == 302


def test_one_network_address_is_held_back_whatever_the_names_and_others_are_not(clinic, settings):
    settings.ACCOUNT_RATE_LIMITS = {"login_failed": "3/15m/ip,10/15m/key"}
    answers = [next(tries(f"name{number}", 1)).status_code for number in range(4)]
    assert answers == [200, 200, 200, 429]
    elsewhere = Client(REMOTE_ADDR="192.0.2.7").post("/sign-in/", {"username": "thea", "password": "wrong"})
    assert elsewhere.status_code == 200


def test_the_address_behind_the_proxy_is_the_one_that_counts(clinic, settings):
    settings.HTTPS, settings.ACCOUNT_RATE_LIMITS = True, {"login_failed": "1/15m/ip"}
    for forwarded, status in (("192.0.2.1", 200), ("9.9.9.9, 192.0.2.1", 429), ("192.0.2.2", 200), ("nonsense", 200)):
        sent = {"username": "thea", "password": "wrong"}
        answer = Client().post("/sign-in/", sent, headers={"X-Forwarded-For": forwarded})
        assert answer.status_code == status, forwarded


def test_the_trail_names_who_signed_in_out_and_was_refused_and_never_what_was_typed(clinic, client):
    therapist = known(clinic.therapist)
    client.post("/sign-in/", {"username": "Thea", "password": "typed-wrong"})
    client.post("/sign-in/", {"username": "typed-name", "password": "typed-wrong"})
    enter(client, therapist)
    client.post("/sign-out/")
    who = therapist.pk
    assert trail() == [
        ("staff.sign-in-refused", None, who), ("staff.sign-in-refused", None, None),
        ("staff.sign-in", who, who), ("staff.sign-out", who, who),
    ]  # fmt: skip
    assert set(TrailEntry.objects.values_list("subject", "origin")) == {("staff", "127.0.0.1")}
    assert "typed" not in str(list(TrailEntry.objects.values()))


def test_somebody_who_left_is_told_what_anybody_is(clinic, client):
    known(clinic.therapist)
    clinic.therapist.is_active = False
    clinic.therapist.save()
    assert "do not belong together" in enter(client, clinic.therapist).content.decode()


def test_a_link_to_a_new_password_goes_to_who_is_known_and_the_page_says_the_same(clinic, client, mailed):
    clinic.therapist.email = "thea@example.org"
    clinic.therapist.save()
    pages = [client.post(FORGOTTEN, {"username": name}) for name in ("Thea", "nobody-here", "ada")]
    assert len({words(page) for page in pages}) == 1 and pages[0].status_code == 200
    (message,) = mailed
    assert message.to == ["thea@example.org"] and "thea" not in message.subject.lower()


def link(message: mail.EmailMessage) -> str:
    return message.body.partition("http://testserver")[2].partition("\n")[0]


def test_the_link_holds_once_and_ends_every_session(clinic, client, mailed, sign_in):
    clinic.therapist.email = "thea@example.org"
    clinic.therapist.save()
    signed_in = sign_in(clinic.therapist)
    client.post(FORGOTTEN, {"username": "thea"})
    page = client.get(link(mailed[0])).url
    assert page.endswith("/set-password/")
    new = "kettle moss and lamp"
    assert client.post(page, {"new": new, "again": new}).url == "/sign-in/"
    assert "The password is set" in client.get("/sign-in/").content.decode()
    assert Client().get(link(mailed[0])).status_code == 410
    assert signed_in.get("/help/").status_code == 302
    assert enter(client, clinic.therapist, new).status_code == 302
    assert trail()[0] == ("staff.password", clinic.therapist.pk, clinic.therapist.pk)


def test_the_link_holds_for_an_hour(clinic, client, mailed):
    clinic.therapist.email = "thea@example.org"
    clinic.therapist.save()
    client.post(FORGOTTEN, {"username": "thea"})
    for minutes, status in ((59, 302), (61, 410)):
        with later(minutes, timezone.now()):
            assert Client().get(link(mailed[0])).status_code == status


def test_links_may_be_asked_for_five_times(clinic, client, mailed):
    answers = [client.post(FORGOTTEN, {"username": "nobody-here"}) for _ in range(6)]
    assert [answer.status_code for answer in answers] == [200] * 5 + [429]
    assert "That was tried too often" in answers[-1].content.decode()


def test_without_mail_the_page_says_to_ask_a_lead(clinic, client, mailed, settings):
    settings.MAIL_URL = ""
    assert "Ask a lead" in client.get(FORGOTTEN).content.decode()
    client.post(FORGOTTEN, {"username": "thea"})
    assert mailed == []


@pytest.mark.parametrize("name", ["account_signup", "account_email", "account_request_login_code", "mfa_trust"])
def test_what_is_not_needed_has_no_address(name):
    with pytest.raises(NoReverseMatch):
        reverse(name)


def test_no_page_is_the_librarys_and_none_is_without_its_own(clinic, monkeypatch):
    drawn: list[str] = []
    render = Template.render
    monkeypatch.setattr(Template, "render", lambda self, said: drawn.append(self.origin.name) or render(self, said))
    signed_in, begun = Client(), Client()
    therapist = with_app(known(clinic.therapist))
    signed_in.cookies["session"] = session_of(therapist)
    signed_in.post("/your-sign-in/again/", {"password": PASSWORD})
    enter(begun, therapist)
    for page in sign_in_pages:
        if page.name == "sign-out":
            continue
        address = reverse(page.name, kwargs={name: 1 if name == "pk" else "x" for name in page.pattern.converters})
        for client in (signed_in, begun, Client()):
            for answer in (client.get(address), client.post(address)):
                assert answer.status_code < 500, address
    assert signed_in.get("/your-sign-in/").status_code == 200 and len(set(drawn)) > 10
    assert not [name for name in drawn if name.startswith(library.removesuffix("__init__.py"))]
