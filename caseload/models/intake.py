"""Theatre lists as they were uploaded, row by row, with what was decided about each."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.models.codes import new_code
from caseload.models.episodes import Episode


class IntakeSource(models.Model):
    """Where lists come from, and which of its headers means what: matched once, remembered."""

    name = models.CharField(max_length=80, unique=True)
    columns = models.JSONField(default=dict)
    used_at = models.DateTimeField()


class IntakeBatch(models.Model):
    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    source = models.ForeignKey(IntakeSource, models.PROTECT, null=True, blank=True, related_name="batches")
    file_name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    headers = models.JSONField()
    columns = models.JSONField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    uploaded_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-uploaded_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["digest"], condition=Q(confirmed_at__isnull=False), name="intakebatch_confirmed_once"
            )
        ]


class Verdict(models.TextChoices):
    NEW = "new", "new"
    KNOWN = "known", "already known"
    CHANGED = "changed", "changed"
    DOUBTFUL = "doubtful", "doubtful"
    REFUSED = "refused", "refused"


class IntakeRow(models.Model):
    """`as_read` are the cells by header; `value` is what they mean, None where refused."""

    batch = models.ForeignKey(IntakeBatch, models.CASCADE, related_name="rows")
    number = models.PositiveIntegerField()
    as_read = models.JSONField()
    value = models.JSONField(null=True)
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    problems = models.JSONField(default=list)
    changes = models.JSONField(default=list)
    episode = models.ForeignKey(Episode, models.PROTECT, null=True, blank=True, related_name="+")
    accepted = models.BooleanField(default=False)
    applied_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number", "id"]
        indexes = [models.Index(fields=["batch", "verdict", "number"], name="intakerow_by_verdict")]
