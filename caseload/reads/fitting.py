"""Whom a free slot would suit: follow-ups without a booking whose window contains the day, and those already late."""

from collections.abc import Mapping
from datetime import date
from typing import Final, NamedTuple
from uuid import UUID

from django.db.models import Exists, OuterRef, Q

from caseload.booking.needs import minutes_for
from caseload.booking.slots import SLOT, slots_for
from caseload.models import Episode, FollowUp, Patient, Session, Submission
from caseload.reads.reach import Reader, seen_by, unseen_by
from caseload.timetable.terms import Way

MOST: Final = 40


class Fitting(NamedTuple):
    """`name` names it in a form; `days_late` counts from its last day to the day of the slot."""

    row: FollowUp
    minutes: int
    way: Way
    days_late: int
    same_name: bool

    @property
    def name(self) -> str:
        return f"{self.row.episode.code}/{self.row.key}"

    @property
    def patient(self) -> str:
        return str(self.row.patient)


class Found(NamedTuple):
    """`room` is how many minutes are free from the slot on, 0 where it is not; `held` are the slots that are kept back
    together with it, for `held_why`. `other` is the code of somebody else's patient who is booked here."""

    rows: list[Fitting]
    room: int
    held_why: str
    held: list[int]
    is_slot: bool
    other: str = ""


def fitting(session: Session, minute: int, today: date, reader: Reader | None = None) -> Found:
    """Most urgent first. Two queries, one more where the slot is taken."""
    slots = session.slots.filter(live=True).values_list("minute", "held_why", "seat__appointment")
    known = {at: (why, seated) for at, why, seated in slots}
    why, seated = known.get(minute, ("", None))
    free = {at for at, (held, taken) in known.items() if not held and taken is None}
    room = _room(free, minute) if session.on >= today else 0
    rows = [each for row in _due(session, today, reader) if (each := _fit(row, session, room))] if room else []
    held_why = why if seated is None else ""
    held = _held(known, minute, held_why) if held_why else []
    return Found(rows[:MOST], room, held_why, held, minute in known, _other(seated, reader))


def _other(appointment: int | None, reader: Reader | None) -> str:
    """The code of the patient in a slot if it is somebody else's; nothing else of them is told."""
    if appointment is None or reader is None:
        return ""
    patient = Patient.objects.get(appointments=appointment)
    return patient.code if unseen_by(reader, [patient.pk]) else ""


def done_before(key: UUID | None) -> bool:
    """Whether a form of this key was carried out already."""
    return key is not None and Submission.objects.filter(key=key).exists()


def _held(known: Mapping[int, tuple[str, int | None]], minute: int, why: str) -> list[int]:
    """The slots in a row from this one on that are kept back for the same reason."""
    found = []
    while known.get(minute) == (why, None):
        found.append(minute)
        minute += SLOT
    return found


def _room(free: set[int], minute: int) -> int:
    room = 0
    while minute + room in free:
        room += SLOT
    return room


def _due(session: Session, today: date, reader: Reader | None) -> list[FollowUp]:
    inside = Q(latest_on__gte=session.on) | Q(latest_on__lt=today) | Q(provisional=True)
    others = Episode.objects.filter(patient__search_key=OuterRef("patient__search_key"), ended_on__isnull=True)
    rows = FollowUp.objects.due().filter(
        inside, earliest_on__lte=session.on, minutes__gt=0, episode__site=session.site_id, episode__ended_on=None
    )
    if session.takes:
        rows = rows.filter(kind__in=session.takes)
    free = seen_by(reader, rows).exclude(purposes__live=True).select_related("episode", "patient")
    twins = Exists(others.exclude(patient=OuterRef("patient")))
    return list(free.annotate(same_name=twins).order_by("latest_on", "id")[: 4 * MOST])


def _fit(row: FollowUp, session: Session, room: int) -> Fitting | None:
    minutes = minutes_for([row.minutes], row.patient.interpreter)
    ways = [way for way in Way if way in session.by_way and (way is Way.IN_PERSON or not row.in_person)]
    if len(slots_for(0, minutes)) * SLOT > room or not ways:
        return None
    late = 0 if row.provisional else max(0, (session.on - row.latest_on).days)
    return Fitting(row, minutes, ways[0], late, row.same_name)  # type: ignore[attr-defined]
