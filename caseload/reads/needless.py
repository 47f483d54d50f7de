"""Appointments to come that nothing is left for: what they were booked for is done or not needed any more."""

from datetime import date

from caseload.models import Appointment, State


def needless(patient_id: int, today: date) -> list[Appointment]:
    """The live appointments of a patient from today on all of whose follow-ups are done or dropped, in two queries."""
    return [row for row in to_come(patient_id, today) if is_needless(row)]


def to_come(patient_id: int, today: date) -> list[Appointment]:
    """The live appointments of a patient from today on, with what they are for, in two queries."""
    rows = Appointment.objects.filter(patient=patient_id, live=True, outcome="", on__gte=today)
    return list(rows.select_related("site", "patient").prefetch_related("purposes__follow_up__episode"))


def is_needless(appointment: Appointment) -> bool:
    return all(purpose.follow_up.state != State.DUE for purpose in appointment.purposes.all())
