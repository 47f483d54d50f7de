"""Whose patients somebody reaches: their own first, all where the service says so.

An admin books for everybody and a lead answers for everybody, so both reach all. Somebody who is a therapist only
reaches a patient (a) one of whose episodes is or was theirs, or a colleague's whom they cover; (b) whose open episodes
have no therapist, or who has no episode; (c) who has, or had in the last week, an appointment in such a session; (d)
whose record they opened with a reason that still holds.
"""

from datetime import date, datetime, timedelta
from typing import TypeVar

from django.conf import settings
from django.db.models import Exists, Model, OuterRef, Q, QuerySet
from django.utils import timezone

from caseload.models import Appointment, BreakGlass, Episode, Patient, Staff
from caseload.reads.away import away_on
from caseload.timetable.terms import Owner

AFTER_VISIT = timedelta(days=7)
"""So long after an appointment its patient is still reached: notes are written up and calls come back."""
Row = TypeVar("Row", bound=Model)


def sees_all(staff: Staff | None) -> bool:
    """Whether nothing is kept from them; the planner itself is None."""
    return staff is None or settings.PATIENTS_SEEN == "all" or bool(staff.roles - {Owner.THERAPIST})


def reach_of(staff: Staff | None, at: datetime) -> Q | None:
    """A condition on patients, None where there is none to be put; asks once who is away."""
    if staff is None or sees_all(staff):
        return None
    today = timezone.localdate(at)
    theirs = {staff.pk} | away_on(today).passed_to(staff)
    episodes = Episode.objects.filter(patient=OuterRef("pk"))
    unended = episodes.filter(ended_on__isnull=True)
    nobodys = Exists(unended.filter(therapist__isnull=True)) & ~Exists(unended.filter(therapist__isnull=False))
    return (
        Q(pk__in=Episode.objects.filter(therapist__in=theirs).values("patient_id"))
        | Q(pk__in=_coming(theirs, today).values("patient_id"))
        | Q(pk__in=BreakGlass.objects.filter(by=staff, until_at__gt=at).values("patient_id"))
        | Q(nobodys)
        | ~Q(Exists(episodes))
    )


def _coming(therapists: set[int], today: date) -> QuerySet[Appointment]:
    return Appointment.objects.filter(session__therapist__in=therapists, on__gte=today - AFTER_VISIT)


def within(query: QuerySet[Row], staff: Staff | None, at: datetime, path: str = "patient") -> QuerySet[Row]:
    """Those rows of a query whose patient, found at `path`, is reached; the query itself where everything is."""
    reach = reach_of(staff, at)
    if reach is None:
        return query
    return query.filter(**{f"{path}__in": Patient.objects.filter(reach).values("pk")})


def reached(staff: Staff | None, patient_id: int, at: datetime) -> bool:
    reach = reach_of(staff, at)
    return reach is None or Patient.objects.filter(reach, pk=patient_id).exists()


def unreached(staff: Staff | None, patients: set[int], at: datetime) -> set[int]:
    """Those of some patients, by key, who are not reached."""
    reach = reach_of(staff, at)
    if reach is None or not patients:
        return set()
    return patients - set(Patient.objects.filter(reach, pk__in=patients).values_list("pk", flat=True))
