"""Appointments to come that nothing is left for: what they were booked for is done or not needed any more."""

from datetime import date
from typing import Final

from caseload.models import Appointment, Purpose, State
from caseload.reads.prepared_models import PreparedModels, by_key, put

_TO_COME: Final = PreparedModels(
    lambda patient, today: Appointment.objects.filter(
        patient=patient, live=True, outcome="", on__gte=today
    ).select_related("site", "patient")
)
_PURPOSES: Final = PreparedModels(
    lambda appointments: (
        Purpose.objects.filter(appointment__in=appointments).select_related("follow_up__episode").order_by("id")
    )
)


def needless(patient_id: int, today: date) -> list[Appointment]:
    """The live appointments of a patient from today on all of whose follow-ups are done or dropped, in two queries."""
    return [row for row in to_come(patient_id, today) if is_needless(row)]


def to_come(patient_id: int, today: date) -> list[Appointment]:
    """The live appointments of a patient from today on, with what they are for, in two queries."""
    rows = _TO_COME(patient_id, today)
    put(rows, "purposes", by_key(_PURPOSES([row.pk for row in rows]), "appointment_id"))
    return rows


def is_needless(appointment: Appointment) -> bool:
    return all(purpose.follow_up.state != State.DUE for purpose in appointment.purposes.all())
