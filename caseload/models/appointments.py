"""A booked day and what it serves. Sessions and slots come with the diary."""

from django.db import models
from django.db.models import Q

from caseload.models.choices import choices
from caseload.models.codes import new_code
from caseload.models.follow_ups import FollowUp
from caseload.models.patients import Patient
from caseload.models.sites import Site
from caseload.timetable.terms import Outcome


class Told(models.TextChoices):
    UNTOLD = "untold", "not told yet"
    MESSAGE = "message-left", "message left"
    TOLD = "told", "told"


class Appointment(models.Model):
    """`outcome` is empty while it is to come or not recorded yet; a cancelled or missed one is not `live`."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="appointments")
    site = models.ForeignKey(Site, models.PROTECT, related_name="appointments")
    on = models.DateField()
    minutes = models.PositiveSmallIntegerField()
    outcome = models.CharField(max_length=20, choices=choices(Outcome), blank=True)
    live = models.BooleanField(default=True)
    told = models.CharField(max_length=12, choices=Told.choices, default=Told.TOLD)
    untold_since_on = models.DateField(null=True, blank=True)
    approved_by = models.CharField(max_length=120, blank=True)
    booked_at = models.DateTimeField()
    ended_on = models.DateField(null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["on", "id"]
        indexes = [models.Index(fields=["on", "id"], condition=Q(live=True), name="appointment_live_day")]
        constraints = [
            models.UniqueConstraint(fields=["id", "patient", "live"], name="appointment_with_patient"),
            models.CheckConstraint(
                condition=Q(live=True, outcome__in=["", Outcome.ATTENDED])
                | Q(
                    live=False,
                    outcome__in=[Outcome.DID_NOT_ATTEND, Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC],
                ),
                name="appointment_live_unless_ended",
            ),
            models.CheckConstraint(condition=Q(minutes__gte=10, minutes__lte=120), name="appointment_length"),
            models.CheckConstraint(
                condition=Q(told="untold", untold_since_on__isnull=False)
                | ~Q(told="untold") & Q(untold_since_on__isnull=True),
                name="appointment_untold_since_a_day",
            ),
        ]


class Purpose(models.Model):
    """A follow-up that an appointment serves; the database allows one live booking for each follow-up."""

    appointment = models.ForeignKey(Appointment, models.CASCADE, related_name="purposes")
    follow_up = models.ForeignKey(FollowUp, models.PROTECT, related_name="purposes")
    live = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["follow_up"], condition=Q(live=True), name="purpose_one_live_booking"),
            models.UniqueConstraint(fields=["appointment", "follow_up"], name="purpose_once"),
        ]
