"""Which notices some appointments should have, as they and their patients stand now."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet

from caseload.booking.notices import Booked, Reach, Wanted, wanted
from caseload.models import Appointment, Episode, NoticeState, Patient, Told
from caseload.reads.calendars import calendars_of
from caseload.timetable.terms import Ending, Outcome

CANCELLED = (Outcome.CANCELLED_BY_CLINIC, Outcome.CANCELLED_BY_PATIENT)
TO_COME = Q(live=True, outcome="")
UNTOLD = Q(untold_since_on__isnull=False)


def with_patients(appointments: QuerySet[Appointment]) -> QuerySet[Appointment]:
    """Everything that `wanted_of` needs in the same query, by key."""
    died = Episode.objects.filter(patient=OuterRef("patient"), ended_how=Ending.DIED)
    rows = appointments.select_related("patient", "site__region")
    return rows.annotate(patient_died=Exists(died)).order_by("pk")


def wanted_of(appointments: Sequence[Appointment]) -> dict[int, tuple[Wanted, ...]]:
    """What each appointment of `with_patients` wants, in two queries; none where none of them can want anything.

    A patient who died gets nothing; a day noted without an hour, from before there were sessions, cannot be written of.
    """
    found: dict[int, tuple[Wanted, ...]] = {row.pk: () for row in appointments}
    rows = [row for row in appointments if _may_want(row)]
    if rows:
        calendars = calendars_of({row.site_id: row.site for row in rows}.values())
        for row in rows:
            found[row.pk] = wanted(booked_of(row), reach_of(row.patient), calendars[row.site_id])
    return found


def booked_of(row: Appointment) -> Booked:
    to_come = row.live and not row.outcome
    return Booked(
        on=row.on, minute=row.start_minute or 0, zone=row.site.zone, to_come=to_come,
        cancelled=row.outcome in CANCELLED, untold=row.told == Told.UNTOLD, moved=row.sequence > 0,
        changed_at=row.changed_at or row.booked_at,
    )  # fmt: skip


def reach_of(patient: Patient) -> Reach:
    """An invented patient is never mailed for real: their e-mail goes into a folder, set up or not."""
    mail = settings.MAIL_URL in ("", "folder:") if patient.demo else bool(settings.MAIL_URL)
    may = mail and bool(patient.email) and patient.email_consent
    return Reach(email=may, letter=bool(patient.postal_address.strip()), interpreter=patient.interpreter)


def key_of(appointment: Appointment, one: Wanted) -> str:
    """By its code: a restored database may give the number of one that was taken away once more."""
    return f"{appointment.code}-{one.kind}-{appointment.sequence}"


def keys_to_look_at(now: datetime, **which: Any) -> list[int]:
    """The appointments that can want a notice after `now`, or that have one waiting, by key; of all or `which`."""
    days = Q(on__gte=now.date() - timedelta(days=1))
    rows = Appointment.objects.filter(days & (TO_COME | UNTOLD) | Q(notices__state=NoticeState.WAITING))
    return sorted(set(rows.filter(**which).order_by().values_list("pk", flat=True)))


def _may_want(row: Appointment) -> bool:
    over = not (row.live and not row.outcome or row.told == Told.UNTOLD)
    return not (over or row.start_minute is None or row.patient_died)  # type: ignore[attr-defined]
