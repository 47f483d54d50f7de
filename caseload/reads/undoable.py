"""What somebody did with appointments in the last ten minutes and can still take back."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from typing import Final

from django.db.models import BooleanField, ExpressionWrapper, F, Q

from caseload.models import Staff, UndoStep
from caseload.reads.reach import within
from caseload.timetable.terms import Owner
from caseload.wording.appointments import say_last

WITHIN: Final = timedelta(minutes=10)
MOST: Final = 6


@dataclass(frozen=True, slots=True)
class Step:
    """One that can be taken back: of which appointment, whose, what was done, by whom, and for how long still."""

    code: str
    patient: str
    what: str
    by: str
    minutes_left: int


def undoable(staff: Staff, at: datetime, *, patient: int | None = None) -> list[Step]:
    """The last steps that this person can take back, the latest first, their own before those that only a lead may.

    Of one patient only where `patient` is given. One query.
    """
    rows = UndoStep.objects.filter(at__gte=at - WITHIN, at__lte=at, version=F("appointment__version"))
    rows = within(rows, staff, at, "appointment__patient")
    if Owner.LEAD not in staff.roles:
        rows = rows.filter(by=staff)
    if patient is not None:
        rows = rows.filter(appointment__patient=patient)
    own = ExpressionWrapper(Q(by=staff), output_field=BooleanField())
    rows = rows.select_related("appointment__patient", "by").order_by(own.desc(), "-at", "-id")
    return [_step(row, at) for row in rows[:MOST]]


def _step(row: UndoStep, at: datetime) -> Step:
    left = ceil((row.at + WITHIN - at).total_seconds() / 60)
    appointment = row.appointment
    return Step(
        appointment.code, str(appointment.patient), say_last(appointment, row.before), row.by.name, max(1, left)
    )
