"""The pages of people: only a lead sees them; a link is shown once, or sent, and lets one person choose a password."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from allauth.mfa.models import Authenticator
from django.core import mail
from django.test import Client

from caseload.actions import people
from caseload.models import Session, Staff
from caseload.timetable.terms import Owner
from tests.scenario import by
from tests.web.posting import errors, send

PASSWORD = "seven soft bandages"
NEW = {"name": "Noor Vale", "username": "noor", "roles": ["therapist"]}


@pytest.fixture(autouse=True)
def at_once(monkeypatch, settings):
    """Mail goes out in the request, where a test sees it; none is set up unless a test says so. Hashing is cheap."""
    monkeypatch.setattr("caseload.outreach.sign_in_mail.Thread.start", lambda thread: thread.run())
    settings.MAIL_URL = ""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def link_in(text: str) -> str:
    found = re.search(r"http://testserver(/sign-in/password/[^\s<]+)", text)
    assert found, text
    return found[1]


def chosen(link: str, password: str = PASSWORD):
    """Open the link as somebody who is not signed in, and choose a password there."""
    client = Client()
    page = client.get(link, follow=True)
    if page.status_code != 200:
        return page
    return client.post(page.request["PATH_INFO"], {"new": password, "again": password})


def noor() -> Staff:
    return Staff.objects.get(username="noor")


def test_somebody_invited_without_mail_gets_the_link_by_hand_and_signs_in(lead):
    link = link_in(send(lead, "/people/new/", **NEW).content.decode())
    assert chosen(link).url == "/sign-in/"
    signed_in = Client().post("/sign-in/", {"username": "noor", "password": PASSWORD})
    assert signed_in.status_code == 302 and noor().roles == {Owner.THERAPIST}


def test_a_link_works_once_and_for_three_days(lead):
    link = link_in(send(lead, "/people/new/", **NEW).content.decode())
    with time_machine.travel(datetime.now(UTC) + timedelta(days=3, seconds=1), tick=False):
        assert chosen(link).status_code == 410
    with time_machine.travel(datetime.now(UTC) + timedelta(days=2, hours=23), tick=False):
        chosen(link)
    assert chosen(link).status_code == 410


def test_a_new_link_ends_the_earlier_one_and_the_password(clinic, lead):
    first = link_in(send(lead, "/people/new/", **NEW).content.decode())
    second = link_in(send(lead, f"/people/{noor().code}/reset/").content.decode())
    assert chosen(first).status_code == 410 and chosen(second).status_code == 302
    send(lead, f"/people/{noor().code}/reset/")
    assert not noor().has_usable_password()


def test_a_form_sent_twice_invites_once_and_shows_the_link_once(lead):
    page = lead.get("/people/new/")
    send(lead, "/people/new/", page=page, **NEW)
    again = send(lead, "/people/new/", page=page, **NEW)
    assert again.url == f"/people/{noor().code}/"
    assert "shown only once" in lead.get(again.url).content.decode()


def test_with_mail_the_link_goes_by_e_mail_and_stands_on_no_page(lead, settings):
    settings.MAIL_URL = "smtp://mail.example.org"
    answer = send(lead, "/people/new/", **NEW, email="noor@example.org")
    [message] = mail.outbox
    assert answer.url == f"/people/{noor().code}/" and message.to == ["noor@example.org"]
    assert "Noor" not in message.subject and "noor" not in message.subject
    assert chosen(link_in(message.body)).status_code == 302


@pytest.mark.parametrize("typed", [{}, {"email": "noor@example.org", "here": "on"}])
def test_with_mail_the_link_is_shown_where_there_is_no_address_or_somebody_wants_to_hand_it_over(lead, settings, typed):
    settings.MAIL_URL = "smtp://mail.example.org"
    assert link_in(send(lead, "/people/new/", **NEW, **typed).content.decode())
    assert not mail.outbox


def test_a_user_name_that_is_taken_is_said_at_its_field(lead):
    answer = send(lead, "/people/new/", **NEW | {"username": "THEA"})
    assert answer.status_code == 422 and errors(answer) == {"username": ["username-taken"]}


def test_a_change_on_top_of_somebody_elses_shows_both(clinic, lead):
    address = f"/people/{clinic.therapist.code}/change/"
    page = lead.get(address)
    people.change(clinic.therapist, by=by(clinic.lead), name="Thea Brook")
    answer = send(lead, address, page=page, name="Thea Field", roles=["therapist", "admin"])
    assert answer.status_code == 409 and ("Name", "Thea Brook", "Thea Field") in answer.context["differences"]
    assert send(lead, address, page=answer).url == f"/people/{clinic.therapist.code}/"
    assert Staff.objects.get(username="thea").roles == {Owner.THERAPIST, Owner.ADMIN}


def test_nobody_takes_the_role_of_lead_from_themselves(clinic, lead):
    answer = send(lead, f"/people/{clinic.lead.code}/change/", roles=["admin"])
    assert answer.status_code == 422 and errors(answer) == {"roles": ["own-lead"]}
    assert send(lead, f"/people/{clinic.lead.code}/leave/").status_code == 422


def test_before_somebody_leaves_it_is_shown_what_they_leave_and_it_stays_shown(clinic, lead):
    clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    address = f"/people/{clinic.therapist.code}/"
    asked = lead.get(f"{address}leave/").content.decode()
    send(lead, f"{address}leave/")
    left = lead.get(address).content.decode()
    assert "still has\n    1 open or planned episode and 1 session to come." in lead.get("/sessions/").content.decode()
    for page in (asked, left):
        assert f"?therapist={clinic.therapist.code}" in page and "1 open episode" in page
        assert f"/sessions/{Session.objects.get().code}/call-off/" in page and "1 visit" in page
    assert "Family" not in asked + left


def test_a_planned_episode_is_counted_beside_those_of_the_caseload(clinic, lead):
    clinic.episode()
    clinic.episode(surgery_on=date(2026, 4, 20))
    page = lead.get(f"/people/{clinic.therapist.code}/leave/").content.decode()
    assert (
        '1 open episode</a> and <a href="' in page and '&amp;planned=yes">1 whose surgery is still to come</a>:' in page
    )


def test_whoever_is_no_therapist_any_more_still_has_their_episodes_on_the_caseload(clinic, lead):
    family = clinic.episode().patient.family
    people.change(clinic.therapist, by=by(clinic.lead), roles={Owner.ADMIN})
    page = lead.get(f"/people/{clinic.therapist.code}/").content.decode()
    assert f'/caseload/?therapist={clinic.therapist.code}">1 open episode</a>' in page
    found = lead.get("/caseload/", {"therapist": clinic.therapist.code}).content.decode()
    assert "was left out" not in found and family.upper() in found.upper()


def test_whoever_left_is_signed_out_and_comes_back_with_a_new_link(clinic, lead, therapist):
    address = f"/people/{clinic.therapist.code}/"
    send(lead, f"{address}leave/")
    assert therapist.get("/caseload/").status_code == 302
    lead.post(f"{address}take-back/")
    assert chosen(link_in(send(lead, f"{address}reset/").content.decode())).status_code == 302


def test_second_factors_are_taken_away_only_where_ticked(clinic, lead):
    Authenticator.objects.create(user=clinic.therapist, type="totp", data={})
    assert "codes from an app" in lead.get(f"/people/{clinic.therapist.code}/").content.decode()
    send(lead, f"/people/{clinic.therapist.code}/reset/")
    assert Authenticator.objects.exists()
    send(lead, f"/people/{clinic.therapist.code}/reset/", factors="on")
    assert not Authenticator.objects.exists()


def test_the_list_says_how_everybody_stands(clinic, lead, django_assert_max_num_queries):
    send(lead, "/people/new/", **NEW)
    people.change(clinic.admin, by=by(clinic.lead), is_active=False)
    with django_assert_max_num_queries(7):
        page = lead.get("/people/").content.decode()
    assert "invited" in page and "No longer here" in page and "never" in page


PARTS = ("", "change/", "leave/", "take-back/", "reset/", "end-sessions/")


def test_nobody_but_a_lead_sees_or_does_any_of_it(clinic, admin):
    before = list(Staff.objects.order_by("pk").values())
    for address in ("/people/", "/people/new/", *(f"/people/{clinic.lead.code}/{part}" for part in PARTS)):
        for answer in (admin.get(address), admin.post(address)):
            assert answer.status_code in (403, 405) and clinic.lead.name not in answer.content.decode(), address
    assert list(Staff.objects.order_by("pk").values()) == before
    assert "/people/" not in admin.get("/sessions/").content.decode()


def test_the_trail_says_about_whom_an_act_was(clinic, lead):
    people.change(clinic.therapist, by=by(clinic.lead), name="Thea Brook")
    assert "person changed: Thea Brook" in lead.get("/trail/", {"act": "person.change"}).content.decode()


def test_a_person_who_is_not_there_is_not_found(lead):
    assert lead.get("/people/nobody/").status_code == 404


def test_a_lead_is_led_to_people_from_people_and_sessions(lead):
    assert 'href="/people/"' in lead.get("/sessions/").content.decode()
