"""Where one is signed in, ending it elsewhere, and what ends it by itself."""

import pytest
from allauth.usersessions.models import UserSession
from django.test import Client
from django.utils import timezone

from caseload.access import Act
from caseload.models import Staff, TrailEntry
from caseload.wording.browsers import say_browser
from tests.web.signing import PASSWORD, code, enter, known, later, trail, with_app

pytestmark = pytest.mark.usefixtures("cheap")

PAGE = "/your-sign-in/sessions/"


def from_there(staff: Staff, address: str, browser: str = "") -> Client:
    client = Client(REMOTE_ADDR=address, headers={"User-Agent": browser})
    enter(client, staff)
    return client


@pytest.fixture
def three(clinic) -> list[Client]:
    """The therapist, signed in at three places."""
    therapist = known(clinic.therapist)
    return [from_there(therapist, f"192.0.2.{n}", "Mozilla/5.0 (Windows) Firefox/140.0") for n in (1, 2, 3)]


def alive(clients: list[Client]) -> list[bool]:
    return [client.get("/help/").status_code == 200 for client in clients]


def test_each_is_listed_with_where_it_is_and_when_it_was_last_used(three):
    with later(10, timezone.now()):
        three[1].get("/help/")
        listed = [each.ip for each in three[0].get(PAGE).context["sessions"]]
    assert listed[-1] == "192.0.2.3" and sorted(listed) == ["192.0.2.1", "192.0.2.2", "192.0.2.3"]
    page = three[0].get(PAGE).content.decode()
    assert page.count("this one") == 1 and "Firefox on Windows" in page and "10:10" in page


def test_one_is_ended_and_the_trail_says_where(clinic, three):
    named = UserSession.objects.get(ip="192.0.2.2")
    three[0].post(PAGE, {"session": named.pk})
    assert alive(three) == [True, False, True]
    entry = TrailEntry.objects.get(act=Act.SESSION_END)
    assert (entry.by, entry.origin, entry.changed) == (
        clinic.therapist, "192.0.2.1", {"sessions": [["192.0.2.2"], None]}
    )  # fmt: skip


def test_all_others_are_ended(three):
    three[2].post(PAGE, {"all": "1"})
    assert alive(three) == [False, False, True]


def test_nobody_ends_somebody_elses(clinic, three):
    lead = from_there(known(clinic.admin), "192.0.2.9")
    for session in UserSession.objects.filter(user=clinic.therapist):
        lead.post(PAGE, {"session": session.pk})
    assert alive(three) == [True, True, True]


@pytest.mark.parametrize("named", ["", "x", "0", "99999999999999999999"])
def test_a_session_that_is_none_is_said_to_be_over(three, named):
    three[0].post(PAGE, {"session": named})
    assert "nothing to end any more" in three[0].get(PAGE).content.decode()


def test_a_new_password_ends_all_others_and_is_on_the_trail(clinic, three):
    sent = {"old": PASSWORD, "new": "kettle moss and lamp", "again": "kettle moss and lamp"}
    assert three[0].post("/your-sign-in/password/", sent).url == "/your-sign-in/"
    assert alive(three) == [True, False, False]
    assert trail()[-1] == ("staff.password", clinic.therapist.pk, clinic.therapist.pk)
    assert UserSession.objects.filter(user=clinic.therapist, ip="192.0.2.1").exists()


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"old": "wrong"}, "This is not your password"),
        ({"new": "kettle moss", "again": "kettle moss"}, "needs 15 or more"),
        ({"again": "kettle moss and lamb"}, "The two differ"),
        ({"new": "thea marsh fernhollow", "again": "thea marsh fernhollow"}, "anybody would try"),
    ],
)
def test_a_password_that_will_not_do_is_not_taken(clinic, client, sent, said):
    enter(client, known(clinic.therapist))
    good = {"old": PASSWORD, "new": "kettle moss and lamp", "again": "kettle moss and lamp"}
    assert said in client.post("/your-sign-in/password/", good | sent).content.decode()
    clinic.therapist.refresh_from_db()
    assert clinic.therapist.check_password(PASSWORD)


@pytest.mark.parametrize(("new", "short"), [("kettle m", True), ("kettle moss and lamp", False)])
def test_with_a_second_factor_a_short_one_will_do_and_is_remembered_as_short(clinic, client, new, short):
    therapist = with_app(known(clinic.therapist))
    enter(client, therapist)
    client.post("/sign-in/second-factor/", {"code": code(timezone.now())})
    client.post("/your-sign-in/password/", {"old": PASSWORD, "new": new, "again": new})
    therapist.refresh_from_db()
    assert therapist.check_password(new) and therapist.short_password is short


def test_taking_a_second_factor_away_ends_all_others(clinic):
    therapist, clients = with_app(known(clinic.therapist)), []
    for minute in (0, 2):
        with later(minute, timezone.now()):
            client = from_there(therapist, f"192.0.2.{minute}")
            client.post("/sign-in/second-factor/", {"code": code(timezone.now())})
            clients.append(client)
    with later(2, timezone.now()):
        clients[1].post("/your-sign-in/app/remove/")
        assert alive(clients) == [False, True]


def test_before_a_change_the_password_is_asked_for_unless_it_was_just_typed(clinic, client):
    enter(client, known(clinic.therapist))
    assert client.get("/your-sign-in/app/").status_code == 200
    with later(6, timezone.now()):
        assert client.get("/your-sign-in/app/").url == "/your-sign-in/again/?next=%2Fyour-sign-in%2Fapp%2F"
        again = "/your-sign-in/again/?next=/your-sign-in/app/"
        assert "not your password" in client.post(again, {"password": "wrong"}).content.decode()
        assert client.post(again, {"password": PASSWORD}).url == "/your-sign-in/app/"
        assert client.get("/your-sign-in/app/").status_code == 200


# Forms of what browsers say of themselves: RFC 9110, 10.1.5 (products, and comments in brackets); values from memory.
@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Linux"),
        ("Mozilla/5.0 (Windows NT 10.0) AppleWebKit/537.36 Chrome/139.0 Safari/537.36 Edg/139.0", "Edge on Windows"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15) AppleWebKit/605 Version/18 Safari/605", "Safari on Mac"),
        ("Mozilla/5.0 (Linux; Android 15) AppleWebKit/537.36 Chrome/139.0 Mobile Safari/537.36", "Chrome on Android"),
        ("curl/8.0", "another program"),
    ],
)
def test_a_browser_in_words(said, words):
    assert say_browser(said) == words
