"""Sessions of the diary: added for one day, changed, held again."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.resettle import resettle
from caseload.booking.slots import slots_for
from caseload.booking.weeks import check_hours, check_ways, minutes_of
from caseload.errors import Refusal
from caseload.models import Absence, Appointment, Session, Site, Slot, Staff
from caseload.reads.calendars import calendar_of
from caseload.timetable.terms import FollowUpKind, Way
from caseload.wording.dates import say_date

OF_A_DAY = ("therapist_id", "start_minute", "end_minute", "takes", "ways")
"""What a dated session takes over from its week."""


@act(Act.SESSION_ADD)
def add_session(
    *,
    by: By,
    therapist: Staff,
    site: Site,
    on: date,
    start: int,
    end: int,
    takes: Iterable[FollowUpKind] = (),
    ways: Iterable[Way] = tuple(Way),
) -> Session:
    """A session on one day only.

    Raises Refusal `session-hours`, `session-ways`, `not-a-therapist`, `day-past`, `day-closed`, `therapist-away`,
    `no-such-time` in the hour that a change of the clocks leaves out, or `two-places` where the therapist holds
    another session at that time.
    """
    session = Session(
        therapist=therapist, site=site, on=on, start_minute=start, end_minute=end, changed=True,
        takes=sorted(takes), ways=sorted(ways),
    )  # fmt: skip
    check_therapist(therapist)
    check_held(session, today=by.today)
    open_session(session)
    trail(Act.SESSION_ADD, session, by=by, patient_id=None, changed={"on": (None, on)})
    resettle({site.pk}, on, on)
    return session


@act(Act.SESSION_CHANGE)
def change_session(session: Session, *, by: By, version: int | None, **changes: Any) -> Session:
    """Another therapist, other hours, or what it takes (`therapist`, `start_minute`, `end_minute`, `takes`, `ways`).

    Raises Refusal `session-lost`, `appointments-outside` with who would be left outside, and what adding one raises.
    """
    fresh(session, version)
    session.refresh_from_db()
    if not session.live:
        raise Refusal("session-lost", "This session is called off. Hold it again before changing it.")
    moved = apply(session, as_stored(changes) | {"changed": True})
    check_therapist(session.therapist)
    check_held(session, today=by.today)
    if outside := left_outside(session):
        names = ", ".join(f"{row.patient.family.upper()}, {row.patient.given}" for row in outside)
        raise Refusal("appointments-outside", f"These would be left outside the session: {names}. Move them first, or "
                      "keep their hours.", field="start", outside=outside)  # fmt: skip
    refit(session)
    trail(Act.SESSION_CHANGE, session, by=by, patient_id=None, changed=moved)
    resettle({session.site_id}, session.on, session.on)
    return session


@act(Act.SESSION_CHANGE)
def hold_again(session: Session, *, by: By, version: int | None = None) -> Session:
    """A session that was called off takes place after all. Its former patients keep what they were given meanwhile.

    Raises Refusal `held-already`, and what adding one raises.
    """
    fresh(session, version)
    session.refresh_from_db()
    if session.live:
        raise Refusal("held-already", "This session takes place already.")
    check_held(session, today=by.today)
    moved = apply(session, {"live": True, "lost_why": "", "changed": not _as_its_week(session)})
    try:
        with transaction.atomic():
            session.slots.update(live=True)
    except IntegrityError:
        raise two_places(session) from None
    trail(Act.SESSION_CHANGE, session, by=by, patient_id=None, changed=moved)
    resettle({session.site_id}, session.on, session.on)
    return session


def open_session(session: Session) -> None:
    """Store a session with its slots. Raises Refusal `no-such-time` or `two-places`."""
    minutes = minutes_of(session.start_minute, session.end_minute, session.on, session.site.zone)
    try:
        with transaction.atomic():
            session.save()
            Slot.objects.bulk_create(slots_of(session, minutes))
    except IntegrityError:
        raise two_places(session) from None


def slots_of(session: Session, minutes: Iterable[int]) -> list[Slot]:
    return [
        Slot(session=session, therapist_id=session.therapist_id, on=session.on, minute=minute) for minute in minutes
    ]


def refit(session: Session) -> None:
    """Make the slots of a live session those of its hours and its therapist. Those that stay keep seat and hold.

    Nothing seated may lie outside. Raises Refusal `no-such-time` or `two-places`.
    """
    wanted = minutes_of(session.start_minute, session.end_minute, session.on, session.site.zone)
    try:
        with transaction.atomic():
            session.slots.exclude(minute__in=wanted).delete()
            session.slots.update(therapist=session.therapist_id, on=session.on)
            there = set(session.slots.values_list("minute", flat=True))
            Slot.objects.bulk_create(slots_of(session, [minute for minute in wanted if minute not in there]))
    except IntegrityError:
        raise two_places(session) from None


def left_outside(session: Session) -> list[Appointment]:
    """Whoever would not sit on the slots of the session's hours."""
    wanted = set(minutes_of(session.start_minute, session.end_minute, session.on, session.site.zone))
    seated = session.appointments.filter(live=True).select_related("patient")
    return [row for row in seated if not wanted.issuperset(slots_for(row.start_minute or 0, row.minutes))]


def check_held(session: Session, *, today: date) -> None:
    """What must hold for a session to take place on its day."""
    check_hours(session.start_minute, session.end_minute)
    check_ways(session.by_way)
    if session.on < today:
        raise Refusal("day-past", "This day is past. Choose a day to come.", field="on")
    calendar = calendar_of(session.site)
    if not calendar.covers(session.on, session.on):
        raise Refusal("day-closed", f"The holiday list of {session.site} ends on {say_date(calendar.covered_until)}. "
                      "Have it extended before planning later days.", field="on")  # fmt: skip
    if not calendar.is_open(session.on):
        raise Refusal("day-closed", f"{session.site} is closed on {say_date(session.on)}. Choose another day.",
                      field="on")  # fmt: skip
    if away := Absence.objects.filter(therapist=session.therapist_id).filter(
        starts_on__lte=session.on, ends_on__gte=session.on
    ):  # fmt: skip
        raise Refusal("therapist-away", f"{session.therapist} is away until {say_date(away[0].ends_on)}. Choose "
                      "somebody else, or end the absence first.", field="therapist")  # fmt: skip


def check_therapist(staff: Staff, field: str = "therapist") -> None:
    if not (staff.is_therapist and staff.is_active):
        raise Refusal("not-a-therapist", f"{staff} holds no sessions: choose a therapist.", field=field)


def _as_its_week(session: Session) -> bool:
    week = session.weekly
    return week is not None and all(getattr(session, name) == getattr(week, name) for name in OF_A_DAY)


def as_stored(changes: dict[str, Any]) -> dict[str, Any]:
    """Lists of words in one order, as the columns hold them."""
    return {name: sorted(value) if name in {"takes", "ways"} else value for name, value in changes.items()}


def two_places(session: Session) -> Refusal:
    said = f"{session.therapist} holds another session at that time on {say_date(session.on)}. Choose other hours."
    return Refusal("two-places", said, field="start")
