"""Appointments as a calendar shows them: without a name, in instants of universal time."""

from collections.abc import Iterator
from datetime import date, timedelta
from hashlib import sha256
from typing import Final

from caseload.booking.clock import instant_of
from caseload.exchange.icalendar import Event
from caseload.models import Appointment, Feed, Patient
from caseload.timetable.terms import FollowUpKind, Outcome, Way
from caseload.wording import label

BACK: Final = timedelta(days=14)
KEPT: Final = timedelta(days=30)
"""So long a cancelled appointment stays in a feed, for calendars that are asked seldom."""
CANCELLED: Final = (Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC)
DOMAIN: Final = "caseload.invalid"
"""No machine's name (RFC 2606), so that an appointment keeps its UID wherever the planner runs."""


def digest_of(key: str) -> str:
    return sha256(key.encode()).hexdigest()


def feed_at(key: str) -> Feed | None:
    """The feed with this key, of somebody who still works here as a therapist."""
    rows = Feed.objects.filter(digest=digest_of(key), staff__is_active=True, staff__is_therapist=True)
    return rows.select_related("staff").first()


def events_of(feed: Feed, today: date) -> Iterator[Event]:
    """The therapist's appointments from a fortnight ago on, and those cancelled within a month. Two queries."""
    rows = Appointment.objects.filter(session__therapist=feed.staff_id, start_minute__isnull=False)
    coming = rows.filter(on__gte=today - BACK).exclude(outcome__in=CANCELLED)
    gone = rows.filter(outcome__in=CANCELLED, ended_on__gte=today - KEPT)
    for row in (coming | gone).select_related("site", "patient").prefetch_related("purposes__follow_up"):
        yield event(row, _what(row, feed.initials))


def event(appointment: Appointment, summary: str) -> Event:
    """One appointment that has a time."""
    start = instant_of(appointment.on, appointment.start_minute or 0, appointment.site.zone)
    return Event(
        uid=f"{appointment.code}@{DOMAIN}", sequence=appointment.sequence, starts_at=start,
        ends_at=start + timedelta(minutes=appointment.minutes),
        changed_at=appointment.changed_at or appointment.booked_at, cancelled=appointment.outcome in CANCELLED,
        summary=summary, location=appointment.site.name,
    )  # fmt: skip


def for_the_patient(appointment: Appointment) -> Event:
    return event(appointment, f"Hand therapy visit{_way(appointment)}, {appointment.minutes} minutes")


def _what(appointment: Appointment, initials: bool) -> str:
    """`Visit K.M. by telephone: stitches out, wound check`."""
    kinds = dict.fromkeys(each.follow_up.kind for each in appointment.purposes.all())
    words = ", ".join(label(FollowUpKind(kind)) for kind in kinds).lower()
    who = f" {_initials(appointment.patient)}" if initials else ""
    return f"Visit{who}{_way(appointment)}" + (f": {words}" if words else "")


def _way(appointment: Appointment) -> str:
    way = Way(appointment.way)
    return "" if way is Way.IN_PERSON else f" {label(way)}"


def _initials(patient: Patient) -> str:
    return "".join(f"{name[0].upper()}." for name in (patient.given, patient.family) if name)
