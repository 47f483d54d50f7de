"""Sites and staff: what a service needs before the first patient, who is invited, who changes and who leaves.

Decided here:
- Whoever is invited, reset or let go has no password: the way back in is a link, and earlier links and sessions are
  made of the password that went.
- Nobody is ever deleted. Whoever leaves stays on the lists with what was theirs, for others to take over.
- One lead who can sign in is always left, and nobody takes that from themselves.
"""

from collections.abc import Set
from typing import Any
from zoneinfo import available_timezones

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.access.people import Presence, read_username
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.service import load_region, load_shipped
from caseload.errors import Refusal
from caseload.models import Feed, Patient, Site, Staff
from caseload.reads.shipped import RULE_SETS, shipped_region, shipped_rules
from caseload.timetable.terms import Owner

FIRST_RULES = "two-week"
LONDON = "Europe/London"


@transaction.atomic
def add_site(
    name: str, *, by: By, region: str, weekdays: str = "01234", telephone: str = "", zone: str = LONDON
) -> Site:
    """Add a site, or correct the one of that name; brings its region's holidays and the shipped rules as rows.

    Raises Refusal `unknown-region`, `unknown-zone`, or `weekdays-unreadable` for anything but digits from 0 (Monday) to
    6 (Sunday).
    """
    if not weekdays or set(weekdays) - set("0123456"):
        raise Refusal("weekdays-unreadable", "Give the open weekdays as digits: 0 for Monday to 6 for Sunday.")
    if zone not in available_timezones():
        raise Refusal("unknown-zone", f"There is no time zone “{zone}”. Give one such as Europe/London.", field="zone")
    row = load_region(shipped_region(region), by=by)
    for shipped in sorted(RULE_SETS, key=lambda rules: rules == FIRST_RULES):
        load_shipped(shipped_rules(shipped), by=by)
    found = {"region": row, "weekdays": "".join(sorted(set(weekdays))), "telephone": telephone, "zone": zone}
    return Site.objects.update_or_create(name=name, defaults=found)[0]


def add_person(username: str, *, name: str, roles: set[Owner], password: str, email: str = "") -> Staff:
    """Add somebody who may sign in. Raises Refusal for a name that is taken, no role, or a weak password."""
    username = read_username(username)
    _refuse_demo()
    held = _held(roles)
    try:
        validate_password(password, Staff(username=username, name=name, email=email))
    except ValidationError as weak:
        raise Refusal("password-weak", " ".join(weak.messages)) from weak
    return _added(username=username, name=name, email=email, password=password, **held)


@act(Act.PERSON_INVITE)
def invite(*, by: By, username: str, name: str, roles: Set[Owner], email: str = "") -> Staff:
    """Somebody new, who chooses their password under a link. Raises Refusal `username-unreadable`, `username-taken`,
    `role-missing`, `demo-database`.
    """
    demo = by.staff is not None and by.staff.demo
    if not demo:
        _refuse_demo()
    said = {"username": read_username(username), "name": name, "email": email, **_held(roles)}
    staff = _added(**said, demo=demo)
    trail(Act.PERSON_INVITE, staff, by=by, patient_id=None, changed={field: (None, now) for field, now in said.items()})
    return staff


@act(Act.PERSON_CHANGE)
def change(
    staff: Staff, *, by: By, version: int | None = None, roles: Set[Owner] | None = None, **changes: Any
) -> Staff:
    """Correct a `name` or an `email`, give and take roles, let somebody go or take them back (`is_active`).

    Raises Refusal `changed-meanwhile`, `role-missing`, `own-lead`, `last-lead`.
    """
    changes |= {} if roles is None else _held(roles)
    leads = list(Staff.objects.select_for_update(no_key=True).filter(is_lead=True).order_by("pk"))
    fresh(staff, version)
    if staff.is_lead and staff.is_active and not (changes.get("is_lead", True) and changes.get("is_active", True)):
        _refuse_leaderless(staff, leads, by)
    moved = apply(staff, changes)
    if moved.get("is_active") == (True, False):
        moved |= _locked_out(staff)
    if moved:
        trail(Act.PERSON_CHANGE, staff, by=by, patient_id=None, changed=moved)
    if not (staff.is_active and staff.is_therapist):
        _withdraw_feed(staff, by)
    return staff


@act(Act.PERSON_RESET)
def reset(staff: Staff, *, by: By, factors: bool = False) -> Staff:
    """Take somebody's password away, so that a link lets them choose another, and end their sessions; with `factors`
    their second factors too, because the device is lost. Raises Refusal `own-sign-in`, `person-gone`.
    """
    staff = _another(staff, by)
    if not staff.is_active:
        raise Refusal("person-gone", f"{staff} no longer works here. Take them back first.")
    moved = _locked_out(staff)
    if factors and (held := sorted(Authenticator.objects.filter(user=staff).values_list("type", flat=True))):
        Authenticator.objects.filter(user=staff).delete()
        moved |= {"second_factor": (held, None)}
    trail(Act.PERSON_RESET, staff, by=by, patient_id=None, changed=moved)
    return staff


@act(Act.PERSON_RESET)
def end_sessions(staff: Staff, *, by: By) -> Staff:
    """Sign somebody out everywhere. Raises Refusal `own-sign-in`."""
    staff = _another(staff, by)
    trail(Act.PERSON_RESET, staff, by=by, patient_id=None, changed=_signed_out(staff))
    return staff


def _refuse_demo() -> None:
    if Patient.objects.filter(demo=True).exists() or Staff.objects.filter(demo=True).exists():
        raise Refusal("demo-database", "This database holds the demo. Wipe it first: python manage.py demo --wipe")


def _held(roles: Set[Owner]) -> dict[str, bool]:
    if not roles:
        raise Refusal("role-missing", "Give at least one role: therapist, admin or lead.", field="roles")
    return {f"is_{role}": role in roles for role in Owner}


def _added(**fields: Any) -> Staff:
    """The database tells apart two who add the same name at once."""
    try:
        with transaction.atomic():
            return Staff.objects.create(**fields)  # type: ignore[misc]
    except IntegrityError as taken:
        said = f"Somebody signs in as {fields['username']} already. Choose another user name."
        raise Refusal("username-taken", said, field="username") from taken


def _refuse_leaderless(staff: Staff, leads: list[Staff], by: By) -> None:
    if staff == by.staff:
        said = "Nobody takes the role of lead from themselves, or their own way in. Ask another lead to do it."
        raise Refusal("own-lead", said, field="roles")
    for other in leads:
        able = other.presence is Presence.ACTIVE or other == by.staff
        if other != staff and other.is_active and other.demo == staff.demo and able:
            return
    raise Refusal(
        "last-lead", f"{staff} is the only lead who can sign in. Make somebody else lead first.", field="roles"
    )


def _another(staff: Staff, by: By) -> Staff:
    """The row of somebody else, locked as it now is."""
    if staff == by.staff:
        raise Refusal("own-sign-in", "This is your own. Change it on the page Your sign-in.")
    return Staff.objects.select_for_update(no_key=True).get(pk=staff.pk)


def _locked_out(staff: Staff) -> dict[str, tuple[object, object]]:
    """Take the password away and end every session; what changed."""
    was = "set" if staff.has_usable_password() else "to be chosen"
    staff.set_unusable_password()
    staff.short_password = False
    staff.save(update_fields=["password", "short_password"])
    said: dict[str, tuple[object, object]] = {} if was == "to be chosen" else {"password": (was, "to be chosen")}
    return said | _signed_out(staff)


def _signed_out(staff: Staff) -> dict[str, tuple[object, object]]:
    keys = list(UserSession.objects.filter(user=staff).values_list("session_key", flat=True))
    Session.objects.filter(session_key__in=keys).delete()
    UserSession.objects.filter(user=staff).delete()
    return {"sessions": (len(keys), 0)} if keys else {}


def _withdraw_feed(staff: Staff, by: By) -> None:
    """Whoever is no therapist here reads no diary through an address they once made."""
    if feed := Feed.objects.filter(staff=staff).first():
        trail(Act.FEED_REVOKE, feed, by=by, patient_id=None, changed={"address": ("made", "")})
        feed.delete()
