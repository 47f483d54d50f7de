"""Staff and sites: what a service needs before the first patient. Called by commands until pages for it come."""

from zoneinfo import available_timezones

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from caseload.actions.act import By
from caseload.actions.service import load_region, load_rules
from caseload.errors import Refusal
from caseload.models import Patient, Site, Staff
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
        load_rules(shipped_rules(shipped), by=by)
    found = {"region": row, "weekdays": "".join(sorted(set(weekdays))), "telephone": telephone, "zone": zone}
    return Site.objects.update_or_create(name=name, defaults=found)[0]


def add_person(username: str, *, name: str, roles: set[Owner], password: str, email: str = "") -> Staff:
    """Add somebody who may sign in. Raises Refusal for a name that is taken, no role, or a weak password."""
    username = username.strip().lower()
    if Patient.objects.filter(demo=True).exists():
        raise Refusal("demo-database", "This database holds the demo. Wipe it first: python manage.py demo --wipe")
    if not roles:
        raise Refusal("role-missing", "Give at least one role: therapist, admin or lead.")
    if Staff.objects.filter(username__iexact=username).exists():
        raise Refusal("username-taken", f"Somebody signs in as {username} already. Choose another user name.")
    try:
        validate_password(password, Staff(username=username, name=name, email=email))
    except ValidationError as weak:
        raise Refusal("password-weak", " ".join(weak.messages)) from weak
    held = {f"is_{role}": True for role in roles}
    return Staff.objects.create(username=username, name=name, email=email, password=password, **held)
