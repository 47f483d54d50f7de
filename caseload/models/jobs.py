"""Long work as rows, and the ticks of the schedule as rows: the database is the truth, a broker only wakes."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from caseload.models.codes import new_code


class JobState(models.TextChoices):
    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"
    CANCELLED = "cancelled", "cancelled"


class Job(models.Model):
    """`claimed_until` is when another process may take it over; `answer` is a sentence with counts.

    `reached` is what the last whole step left for the next, so that a run taken over goes on from there.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    kind = models.CharField(max_length=20)
    asked = models.JSONField(default=dict)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    state = models.CharField(max_length=9, choices=JobState.choices, default=JobState.WAITING)
    done_steps = models.PositiveIntegerField(default=0)
    steps = models.PositiveIntegerField(default=0)
    reached = models.JSONField(default=dict)
    claimed_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    answer = models.CharField(max_length=500, blank=True)
    error = models.CharField(max_length=500, blank=True)
    created_at = models.DateTimeField()
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at", "-id"]
        indexes = [
            models.Index(
                fields=["claimed_until", "id"], condition=Q(ended_at__isnull=True), name="job_waiting_or_running"
            )
        ]
        constraints = [
            models.CheckConstraint(condition=Q(done_steps__lte=F("steps")), name="job_steps_in_order"),
            models.CheckConstraint(
                condition=Q(state__in=["done", "failed", "cancelled"], ended_at__isnull=False)
                | Q(state__in=["waiting", "running"], ended_at__isnull=True),
                name="job_ended_at_an_instant",
            ),
        ]


class JobFile(models.Model):
    """The file that a job made; forgotten after a day."""

    job = models.OneToOneField(Job, models.CASCADE, related_name="file")
    name = models.CharField(max_length=80)
    media_type = models.CharField(max_length=80)
    content = models.BinaryField()


class Tick(models.Model):
    """One piece of the schedule; whoever's conditional update moves `due_at` runs it, once for each period."""

    name = models.CharField(max_length=40, unique=True)
    due_at = models.DateTimeField()


class Pulse(models.Model):
    """When a piece of background work last showed that it is alive."""

    name = models.CharField(max_length=80, unique=True)
    at = models.DateTimeField()
