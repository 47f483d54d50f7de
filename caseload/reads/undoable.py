"""What somebody did with appointments in the last ten minutes and can still take back."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from math import ceil
from typing import Any, Final

from django.db.models import BooleanField, ExpressionWrapper, F, Q, QuerySet

from caseload.models import Staff, UndoStep
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Limits, sees_all, within_limits
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
    limits = () if sees_all(staff) else Limits.of(staff, at)
    about = () if patient is None else (patient,)
    asked = _steps(of_all=Owner.LEAD in staff.roles, of_one=bool(about))
    return [_step(row, at) for row in asked(staff.pk, at - WITHIN, at, *about, *limits)]


@cache
def _steps(*, of_all: bool, of_one: bool) -> PreparedModels[UndoStep]:
    """Of everybody or their own; of one patient or of every one in reach. What limits that reach comes last."""

    def rows(staff: int, since: datetime, at: datetime, *more: Any) -> QuerySet[UndoStep]:
        found = UndoStep.objects.filter(at__gte=since, at__lte=at, version=F("appointment__version"))
        if not of_all:
            found = found.filter(by=staff)
        if of_one:
            found = found.filter(appointment__patient=more[0])
        if limits := more[of_one:]:
            found = within_limits(found, Limits(*limits), "appointment__patient")
        own = ExpressionWrapper(Q(by=staff), output_field=BooleanField())
        return found.select_related("appointment__patient", "by").order_by(own.desc(), "-at", "-id")[:MOST]

    return PreparedModels(rows)


def _step(row: UndoStep, at: datetime) -> Step:
    left = ceil((row.at + WITHIN - at).total_seconds() / 60)
    appointment = row.appointment
    return Step(
        appointment.code, str(appointment.patient), say_last(appointment, row.before), row.by.name, max(1, left)
    )
