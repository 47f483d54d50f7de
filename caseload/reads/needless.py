"""Appointments to come that nothing is left for: what they were booked for is done or not needed any more."""

from datetime import date

from caseload.models import Appointment, State


def needless(patient_id: int, today: date) -> list[Appointment]:
    """The live appointments of a patient from today on all of whose follow-ups are done or dropped, in two queries."""
    rows = Appointment.objects.filter(patient=patient_id, live=True, outcome="", on__gte=today)
    to_come = rows.select_related("site").prefetch_related("purposes__follow_up__episode")
    return [row for row in to_come if all(purpose.follow_up.state != State.DUE for purpose in row.purposes.all())]
