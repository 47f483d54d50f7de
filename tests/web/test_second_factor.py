"""Second factors: whom one is demanded of, setting one up, signing in with it, and keeping it."""

from datetime import UTC, datetime

import pytest
import time_machine
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import validate_totp_code
from django.db import transaction
from django.test import Client
from django.utils import timezone

from caseload.models import Staff
from tests.web.signing import PASSWORD, SECRET, code, enter, factors, known, trail, with_app

pytestmark = pytest.mark.usefixtures("cheap")
APP = "/your-sign-in/app/"


# RFC 6238, appendix B, SHA-1: the values there have eight digits; ours are their last six (RFC 4226, 5.3: modulo 10^6).
@pytest.mark.parametrize(
    ("at", "value"),
    [
        (59, "94287082"), (1111111109, "07081804"), (1111111111, "14050471"), (1234567890, "89005924"),
        (2000000000, "69279037"), (20000000000, "65353130"),
    ],
)  # fmt: skip
def test_codes_are_those_of_the_published_standard(at, value):
    with time_machine.travel(datetime.fromtimestamp(at, UTC), tick=False):
        assert validate_totp_code(SECRET, value[-6:])
        assert not validate_totp_code(SECRET, value[:6])


def test_a_lead_without_one_is_led_to_set_it_up_before_anything_else(clinic, client):
    lead = known(clinic.lead)
    assert enter(client, lead, next="/caseload/").url == "/caseload/"
    for address in ("/caseload/", "/", "/your-sign-in/", "/your-sign-in/password/"):
        assert client.get(address).url == "/your-sign-in/second-factor/"
    assert "Set up a second factor" in client.get("/your-sign-in/second-factor/").content.decode()
    assert client.post("/sign-out/").url == "/sign-in/"


@pytest.mark.parametrize("who", ["therapist", "admin", "demo"])
def test_others_and_people_of_the_demo_are_not(clinic, client, who):
    demo = {"username": "demi", "name": "Demi", "is_lead": True, "demo": True}
    staff = known(Staff.objects.create(**demo) if who == "demo" else getattr(clinic, who))
    enter(client, staff)
    assert client.get("/caseload/").status_code == 200


@pytest.fixture
def committed(monkeypatch) -> None:
    """What waits for a commit happens at once: the transaction of a test has none."""
    monkeypatch.setattr(transaction, "on_commit", lambda work, **_: work())


def set_up(client: Client) -> str:
    """Set up codes of an app as the page says; where it leads."""
    secret = "".join(client.get(APP).context["secret"])
    return client.post(APP, {"code": code(timezone.now(), secret)}).url


def test_it_is_set_up_right_after_the_password_and_recovery_codes_are_shown(clinic, client, committed):
    lead = known(clinic.lead)
    enter(client, lead)
    assert set_up(client) == "/your-sign-in/recovery-codes/"
    assert len(client.get("/your-sign-in/recovery-codes/").context["unused_codes"]) == 10
    assert factors(lead) == ["recovery_codes", "totp"] and client.get("/caseload/").status_code == 200
    changes = [entry for entry in trail() if entry[0] == "staff.second-factor"]
    assert changes == [("staff.second-factor", lead.pk, lead.pk)] * 2


def test_the_square_of_dots_needs_no_style_and_no_image_address(clinic, client):
    enter(client, known(clinic.therapist))
    page = client.get(APP).content.decode()
    square = page[page.index("The secret as a square") : page.index("Type the code")]
    assert '<path fill="#000"' in square and "style=" not in square and "data:" not in square


def test_a_code_of_another_moment_sets_nothing_up(clinic, client):
    therapist = known(clinic.therapist)
    enter(client, therapist)
    client.get(APP)
    assert "This does not fit" in client.post(APP, {"code": "000000"}).content.decode()
    assert factors(therapist) == []


def test_with_one_the_password_alone_opens_nothing(clinic, client):
    lead = with_app(known(clinic.lead))
    assert enter(client, lead, next="/waits/").url == "/sign-in/second-factor/"
    assert client.get("/caseload/").url == "/sign-in/?next=/caseload/"
    assert client.post("/sign-in/second-factor/", {"code": code(timezone.now())}).url == "/waits/"
    assert client.get("/caseload/").status_code == 200
    assert trail() == [("staff.sign-in", lead.pk, lead.pk)]


def test_a_code_holds_once(clinic):
    lead, now = with_app(known(clinic.lead)), timezone.now()
    for status in (302, 200):
        client = Client()
        enter(client, lead)
        assert client.post("/sign-in/second-factor/", {"code": code(now)}).status_code == status


def test_a_recovery_code_stands_in_once(clinic):
    lead = with_app(known(clinic.lead))
    codes = RecoveryCodes.activate(lead).get_unused_codes()
    for status in (302, 200):
        client = Client()
        enter(client, lead)
        assert client.post("/sign-in/second-factor/", {"code": codes[0]}).status_code == status
    assert RecoveryCodes.activate(lead).get_unused_codes() == codes[1:]


def test_wrong_codes_are_on_the_trail_and_soon_too_many(clinic, client):
    lead = with_app(known(clinic.lead))
    enter(client, lead)
    answers = [client.post("/sign-in/second-factor/", {"code": f"{n:06}"}).status_code for n in range(11)]
    assert answers == [200] * 10 + [429]
    assert trail() == [("staff.sign-in-refused", None, lead.pk)] * 10


def test_somebody_else_leaves_a_sign_in_that_was_begun(clinic, client):
    enter(client, with_app(known(clinic.lead)))
    assert client.get("/sign-in/").url == "/sign-in/second-factor/"
    client.post("/sign-out/")
    assert client.get("/sign-in/").status_code == 200


def test_what_is_no_passkey_signs_nobody_in(clinic, client):
    page = client.get("/sign-in/passkey/", headers={"Accept": "application/json"})
    assert page.json()["request_options"]["publicKey"]["userVerification"] == "required"
    for said in ("", "{", "{}", '{"id": "x", "response": {"userHandle": "eA"}}', "[1]", "null"):
        assert client.post("/sign-in/passkey/", {"credential": said}).url == "/sign-in/"
    assert "not known here" in client.get("/sign-in/").content.decode()
    assert [entry[0] for entry in trail()] == ["staff.sign-in-refused"] * 6


@pytest.mark.parametrize("said", ["0", "false", "5", "[1]", '"x"', "{}", '{"id": "x"}'])
def test_what_is_no_passkey_is_not_kept_as_one(clinic, client, said):
    enter(client, known(clinic.therapist))
    client.get("/your-sign-in/passkeys/new/")
    assert client.post("/your-sign-in/passkeys/new/", {"credential": said, "name": "Desk"}).status_code == 200
    assert not Authenticator.objects.exists()


def test_the_last_one_stays_while_the_password_is_short(clinic, client):
    therapist = with_app(known(clinic.therapist, "kettle m"))
    Staff.objects.filter(pk=therapist.pk).update(short_password=True)
    enter(client, therapist, "kettle m")
    client.post("/sign-in/second-factor/", {"code": code(timezone.now())})
    page = client.get("/your-sign-in/app/remove/").content.decode()
    assert "Change the password to a longer" in " ".join(page.split())
    client.post("/your-sign-in/app/remove/")
    assert factors(therapist) == ["totp"]


def test_where_none_is_demanded_it_may_go_and_its_recovery_codes_with_it(clinic, client):
    therapist = with_app(known(clinic.therapist))
    RecoveryCodes.activate(therapist)
    enter(client, therapist)
    client.post("/sign-in/second-factor/", {"code": code(timezone.now())})
    assert client.post("/your-sign-in/app/remove/").url == "/your-sign-in/"
    assert factors(therapist) == []


def test_whoever_becomes_a_lead_signs_in_again_with_the_second_factor(clinic, sign_in):
    therapist = sign_in(clinic.therapist)
    session = therapist.session
    session["second"] = False
    session.save()
    with_app(clinic.therapist)
    Staff.objects.filter(pk=clinic.therapist.pk).update(is_lead=True)
    assert therapist.get("/caseload/").url == "/sign-in/"
    assert "Sign in again, with it" in therapist.get("/sign-in/").content.decode()


def test_new_recovery_codes_end_the_earlier_ones(clinic, client, committed):
    therapist = with_app(known(clinic.therapist))
    before = RecoveryCodes.activate(therapist).get_unused_codes()
    enter(client, therapist)
    client.post("/sign-in/second-factor/", {"code": code(timezone.now())})
    client.post("/your-sign-in/recovery-codes/new/")
    after = client.get("/your-sign-in/recovery-codes/").context["unused_codes"]
    assert len(after) == 10 and not set(after) & set(before)


def test_nobody_takes_away_what_is_somebody_elses(clinic, client):
    key = Authenticator.objects.create(user=clinic.lead, type="webauthn", data={"name": "Key", "credential": {}})
    enter(client, known(clinic.therapist))
    assert client.post(f"/your-sign-in/passkeys/{key.pk}/remove/").status_code == 404
    assert PASSWORD and Authenticator.objects.filter(pk=key.pk).exists()
