"""The visits that a patient has before them."""

from datetime import date

from django.db.models import Prefetch

from caseload.models import Appointment, Patient, Purpose


def visits_to_come(patient: Patient, *, today: date) -> list[Appointment]:
    """Booked from today on and not ended, the next first, each with what it serves; two queries."""
    serving = Purpose.objects.filter(live=True).select_related("follow_up__episode").order_by("follow_up_id")
    booked = Appointment.objects.filter(patient=patient, live=True, outcome="", on__gte=today)
    return list(booked.select_related("site").prefetch_related(Prefetch("purposes", serving, to_attr="serving")))
