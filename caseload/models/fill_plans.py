"""Plans that fill the diary, as they were proposed, with what people made of each line."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.models.appointments import Appointment
from caseload.models.choices import choices
from caseload.models.codes import new_code
from caseload.models.jobs import Job
from caseload.models.patients import Patient
from caseload.models.sessions import Session
from caseload.timetable.terms import Way


class FillPlan(models.Model):
    """`cost` and `bound` are in points, gaps left out; `could_place` is how many any plan could place."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    job = models.OneToOneField(Job, models.SET_NULL, null=True, blank=True, related_name="fill_plan")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    made_at = models.DateTimeField()
    first_on = models.DateField()
    last_on = models.DateField()
    cost = models.PositiveBigIntegerField()
    bound = models.PositiveBigIntegerField()
    could_place = models.PositiveIntegerField()

    class Meta:
        ordering = ["-made_at", "-id"]


class FillLine(models.Model):
    """One visit that was to be placed. `names` are its follow-ups, `CODE/key` each; without a session it has no place.

    `before` is the faulty appointment that it would move. `appointment` is set once it was accepted; `overtaken` says
    why it could not be carried out any more. `parts` are those of its cost, by name; `reasons` and `why` are codes with
    their values; `after` is the first place after its window, for whoever has none inside.
    """

    plan = models.ForeignKey(FillPlan, models.CASCADE, related_name="lines")
    number = models.PositiveIntegerField()
    patient = models.ForeignKey(Patient, models.CASCADE, related_name="+")
    names = models.JSONField()
    before = models.ForeignKey(Appointment, models.SET_NULL, null=True, blank=True, related_name="+")
    session = models.ForeignKey(Session, models.CASCADE, null=True, blank=True, related_name="+")
    on = models.DateField(null=True, blank=True)
    start_minute = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField()
    way = models.CharField(max_length=10, choices=choices(Way), default=Way.IN_PERSON)
    days_late = models.PositiveSmallIntegerField(default=0)
    parts = models.JSONField(default=dict)
    reasons = models.JSONField(default=list)
    next_best = models.PositiveIntegerField(null=True, blank=True)
    why = models.JSONField(default=list)
    session_on = models.DateField(null=True, blank=True)
    appointment = models.ForeignKey(Appointment, models.SET_NULL, null=True, blank=True, related_name="+")
    declined = models.BooleanField(default=False)
    overtaken = models.CharField(max_length=300, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["plan", "number"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "number"], name="fillline_once"),
            models.CheckConstraint(
                condition=Q(session__isnull=True, on__isnull=True, start_minute__isnull=True)
                | Q(session__isnull=False, on__isnull=False, start_minute__isnull=False),
                name="fillline_has_a_whole_place",
            ),
        ]
