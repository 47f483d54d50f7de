"""People come, change and go: by a lead, with a trail, and never so that nobody is left who can let others in."""

from io import StringIO

import pytest
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.core.management import call_command

from caseload.access import Act
from caseload.access.people import Presence
from caseload.actions import feeds, people
from caseload.errors import Refusal
from caseload.models import Feed, Staff, TrailEntry
from caseload.timetable.terms import Owner
from tests.scenario import by
from tests.signed_in import session_of

NEW = {"username": "Noor.Vale", "name": "Noor Vale", "roles": {Owner.THERAPIST, Owner.LEAD}}


def refused(code: str):
    return pytest.raises(Refusal, check=lambda refusal: refusal.code == code)


def signed_in(staff: Staff) -> str:
    key = session_of(staff)
    UserSession.objects.create(user=staff, session_key=key, ip="192.0.2.7", user_agent="")
    return key


def working(staff: Staff) -> Staff:
    """With a password, hashed by nobody, so that it costs nothing."""
    staff.password = "argon2$not-a-hash"
    staff.save(update_fields=["password"])
    return staff


def test_whoever_is_invited_has_roles_and_no_password(clinic):
    staff = people.invite(by=by(clinic.lead), email="noor@example.org", **NEW)
    assert (staff.username, staff.roles) == ("noor.vale", {Owner.THERAPIST, Owner.LEAD})
    assert staff.presence is Presence.INVITED and not staff.demo
    entry = TrailEntry.objects.get(act=Act.PERSON_INVITE)
    assert (entry.by, entry.subject_id, entry.changed["is_admin"]) == (clinic.lead, staff.pk, [None, False])


def test_a_user_name_is_given_once_whatever_its_capitals(clinic):
    people.invite(by=by(clinic.lead), **NEW)
    with refused("username-taken"):
        people.invite(by=by(clinic.lead), **NEW | {"username": "NOOR.vale"})
    assert TrailEntry.objects.filter(act=Act.PERSON_INVITE).count() == 1


def test_somebody_without_a_role_is_refused(clinic):
    with refused("role-missing"):
        people.invite(by=by(clinic.lead), **NEW | {"roles": set()})
    with refused("role-missing"):
        people.change(clinic.admin, by=by(clinic.lead), roles=set())


def test_whom_a_lead_of_the_demo_invites_belongs_to_the_demo_and_a_real_person_is_never_mixed_in(clinic):
    Staff.objects.update(demo=True)
    clinic.lead.refresh_from_db()
    assert people.invite(by=by(clinic.lead), **NEW).demo
    with refused("demo-database"):
        people.invite(by=by(), **NEW | {"username": "real"})


def test_a_change_is_refused_on_top_of_somebody_elses(clinic):
    people.change(clinic.therapist, by=by(clinic.lead), version=1, name="Thea Brook")
    with refused("changed-meanwhile"):
        people.change(clinic.therapist, by=by(clinic.lead), version=1, name="Thea Field")
    assert TrailEntry.objects.get(act=Act.PERSON_CHANGE).changed == {"name": ["Thea Marsh", "Thea Brook"]}


@pytest.mark.parametrize("taken", [{"roles": {Owner.ADMIN}}, {"is_active": False}])
def test_nobody_takes_the_role_of_lead_or_the_way_in_from_themselves(clinic, taken):
    working(people.invite(by=by(clinic.lead), **NEW))
    with refused("own-lead"):
        people.change(clinic.lead, by=by(clinic.lead), **taken)


@pytest.mark.parametrize("taken", [{"roles": {Owner.ADMIN}}, {"is_active": False}])
def test_the_last_lead_who_can_sign_in_stays_lead(clinic, taken):
    people.invite(by=by(clinic.lead), **NEW)
    with refused("last-lead"):
        people.change(working(clinic.lead), by=by(), **taken)
    working(Staff.objects.get(username="noor.vale"))
    people.change(clinic.lead, by=by(), **taken)


def test_two_leads_who_take_the_role_from_each_other_leave_one(clinic):
    noor = working(people.invite(by=by(clinic.lead), **NEW))
    as_noor = by(Staff.objects.get(pk=noor.pk))
    people.change(noor, by=by(clinic.lead), roles={Owner.THERAPIST})
    with refused("last-lead"):
        people.change(clinic.lead, by=as_noor, roles={Owner.ADMIN})


def test_whoever_leaves_is_signed_out_everywhere_and_their_calendar_address_stops(clinic):
    feeds.make(by=by(clinic.therapist))
    signed_in(working(clinic.therapist))
    people.change(clinic.therapist, by=by(clinic.lead), is_active=False)
    assert not Feed.objects.exists() and not Session.objects.exists() and not UserSession.objects.exists()
    assert Staff.objects.get(username="thea").presence is Presence.GONE
    assert TrailEntry.objects.get(act=Act.PERSON_CHANGE).changed["sessions"] == [1, 0]
    assert TrailEntry.objects.filter(act=Act.FEED_REVOKE, by=clinic.lead).exists()


def test_whoever_is_no_therapist_any_more_keeps_no_calendar_address(clinic):
    feeds.make(by=by(clinic.therapist))
    people.change(clinic.therapist, by=by(clinic.lead), roles={Owner.ADMIN})
    assert not Feed.objects.exists()


def test_a_reset_takes_the_password_and_the_sessions_and_the_second_factor_only_where_asked(clinic):
    thea = working(clinic.therapist)
    Authenticator.objects.create(user=thea, type="totp", data={})
    signed_in(thea)
    kept = session_of(clinic.admin)
    people.reset(thea, by=by(clinic.lead))
    assert not Staff.objects.get(pk=thea.pk).has_usable_password() and Authenticator.objects.exists()
    assert Session.objects.get().session_key == kept
    people.reset(thea, by=by(clinic.lead), factors=True)
    assert not Authenticator.objects.exists()
    assert TrailEntry.objects.filter(act=Act.PERSON_RESET).latest("id").changed["second_factor"] == [["totp"], None]


def test_ending_sessions_leaves_the_password(clinic):
    signed_in(working(clinic.therapist))
    people.end_sessions(clinic.therapist, by=by(clinic.lead))
    assert not Session.objects.exists() and Staff.objects.get(username="thea").has_usable_password()


def test_nobody_resets_themselves_or_whoever_left(clinic):
    with refused("own-sign-in"):
        people.reset(clinic.lead, by=by(clinic.lead))
    people.change(clinic.therapist, by=by(clinic.lead), is_active=False)
    with refused("person-gone"):
        people.reset(clinic.therapist, by=by(clinic.lead))


def test_the_command_that_adds_the_first_lead_says_what_a_lead_does_first(db, monkeypatch):
    monkeypatch.setattr("caseload.management.commands.add_person.getpass", lambda said: "seven soft bandages")
    said = StringIO()
    call_command("add_person", "Lena", "--name", "Lena Marsh", "--role", "lead", stdout=said)
    assert "may sign in as lena" in said.getvalue() and "second factor" in said.getvalue()
