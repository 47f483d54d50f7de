"""Forms about people ask for the password again of a lead who signed in more than five minutes ago.

ASVS 5.0.0, 7.5.1: full authentication before sensitive changes.
"""

from urllib.parse import quote

import pytest
from allauth.account.internal.flows import login

from caseload.models import Staff
from caseload.web.sealed_sessions import SessionStore
from tests.web.posting import held

PASSWORD = "seven soft bandages"

pytestmark = pytest.mark.usefixtures("cheap")


def test_a_lead_who_signed_in_a_while_ago_gives_the_password_again_before_a_form_about_people(clinic, sign_in):
    client, address = signed_in_a_while_ago(clinic.lead, sign_in), f"/people/{clinic.therapist.code}/change/"
    asked = client.get(address)
    assert asked.status_code == 302 and asked["Location"].endswith(f"?next={quote(address, safe='')}")
    assert client.post(asked["Location"], {"password": "not the password at all"}).status_code == 200
    assert client.post(asked["Location"], {"password": PASSWORD})["Location"] == address
    assert client.get(address).status_code == 200


def test_what_was_typed_before_the_password_was_asked_for_is_carried_out_after_it_once(clinic, sign_in):
    client, address = signed_in_a_while_ago(clinic.lead, sign_in), f"/people/{clinic.therapist.code}/change/"
    typed = held(sign_in(clinic.lead).get(address).context["form"]) | {"name": "Thea Fenn"}
    asked = client.post(address, typed)
    assert Staff.objects.get(pk=clinic.therapist.pk).name == "Thea Marsh"
    done = client.post(asked["Location"], {"password": PASSWORD})
    assert done["Location"] == f"/people/{clinic.therapist.code}/"
    assert Staff.objects.get(pk=clinic.therapist.pk).name == "Thea Fenn"


def signed_in_a_while_ago(staff, sign_in):
    staff.set_password(PASSWORD)
    staff.save()
    client = sign_in(staff)
    session = SessionStore(client.cookies["session"].value)
    session[login.AUTHENTICATION_METHODS_SESSION_KEY] = []
    session.save()
    return client
