"""Appointments, the slots they sit in, and the follow-ups they serve. The database refuses a second one."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.models.choices import choices, one_of
from caseload.models.codes import new_code
from caseload.models.follow_ups import FollowUp
from caseload.models.patients import Patient
from caseload.models.sessions import Session, Slot
from caseload.models.sites import Site
from caseload.timetable.terms import Outcome, Way


class Told(models.TextChoices):
    UNTOLD = "untold", "not told yet"
    MESSAGE = "message-left", "message left"
    TOLD = "told", "told"


class Appointment(models.Model):
    """`outcome` is empty while it is to come or not recorded yet; a cancelled or missed one is not `live`.

    One without a session is a walk-in, or a day noted before there were sessions. `sequence` is raised when it moves or
    falls away, so that a calendar that took it in knows the newer word. `told` is about the patient; `interpreter_told`
    is empty where none is needed.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    sequence = models.PositiveIntegerField(default=0)
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="appointments")
    site = models.ForeignKey(Site, models.PROTECT, related_name="appointments")
    session = models.ForeignKey(Session, models.PROTECT, null=True, blank=True, related_name="appointments")
    on = models.DateField()
    start_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField()
    way = models.CharField(max_length=10, choices=choices(Way), default=Way.IN_PERSON)
    outcome = models.CharField(max_length=20, choices=choices(Outcome), blank=True)
    live = models.BooleanField(default=True)
    walk_in = models.BooleanField(default=False)
    arrived_at = models.DateTimeField(null=True, blank=True)
    told = models.CharField(max_length=12, choices=Told.choices, default=Told.TOLD)
    untold_since_on = models.DateField(null=True, blank=True)
    interpreter_told = models.BooleanField(null=True, blank=True)
    approved_by = models.CharField(max_length=120, blank=True)
    approved_why = models.CharField(max_length=200, blank=True)
    booked_at = models.DateTimeField()
    changed_at = models.DateTimeField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["on", "start_minute", "id"]
        indexes = [
            models.Index(fields=["on", "id"], condition=Q(live=True), name="appointment_live_day"),
            models.Index(
                fields=["untold_since_on", "id"], condition=Q(untold_since_on__isnull=False), name="appointment_untold"
            ),
        ]
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
            models.CheckConstraint(
                condition=Q(session__isnull=True, start_minute__isnull=True)
                | Q(session__isnull=False, start_minute__isnull=False, walk_in=False),
                name="appointment_session_with_its_minute",
            ),
            models.CheckConstraint(
                condition=Q(walk_in=False) | Q(outcome=Outcome.ATTENDED), name="appointment_walk_in_was_attended"
            ),
            one_of("way", Way),
        ]


class Seat(models.Model):
    """A slot that an appointment holds: the slot is the key, so no slot ever holds two. Given up when it falls away.

    A trigger on both engines holds seat, slot and appointment to one session (`actions.triggers`).
    """

    slot = models.OneToOneField(Slot, models.PROTECT, primary_key=True, related_name="seat")
    appointment = models.ForeignKey(Appointment, models.CASCADE, related_name="seats")


class Purpose(models.Model):
    """A follow-up that an appointment serves; the database allows one live booking for each follow-up.

    A trigger on both engines holds follow-up and appointment to one patient (`actions.triggers`).
    """

    appointment = models.ForeignKey(Appointment, models.CASCADE, related_name="purposes")
    follow_up = models.ForeignKey(FollowUp, models.PROTECT, related_name="purposes")
    live = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["follow_up"], condition=Q(live=True), name="purpose_one_live_booking"),
            models.UniqueConstraint(fields=["appointment", "follow_up"], name="purpose_once"),
        ]


class UndoStep(models.Model):
    """What an appointment was before the last act on it, for the minutes in which that can be taken back.

    `before` is empty for one that was only just booked: taking that back takes the appointment away.
    """

    appointment = models.OneToOneField(Appointment, models.CASCADE, related_name="undo_step")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    version = models.PositiveIntegerField()
    before = models.JSONField(default=dict)


class WorkedOn(models.Model):
    """Who has a patient's row of the booking list open just now, so that two do not ring the same person."""

    patient = models.OneToOneField(Patient, models.CASCADE, related_name="worked_on")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    at = models.DateTimeField()
