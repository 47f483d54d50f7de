"""Who did or looked at what, when; and the keys that make a repeated form harmless."""

from django.conf import settings
from django.db import models

from caseload.models.patients import Patient


class TrailEntry(models.Model):
    """`changed` is {field: [was, now]}; the row is written in the act's own transaction and never changed."""

    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    act = models.CharField(max_length=40)
    patient = models.ForeignKey(Patient, models.PROTECT, null=True, related_name="trail")
    subject = models.CharField(max_length=20)
    subject_id = models.BigIntegerField(null=True)
    changed = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["patient", "-at"], name="trail_of_patient"),
            models.Index(fields=["subject", "subject_id", "-at"], name="trail_of_subject"),
        ]


class Look(models.Model):
    """Somebody looked at a patient's page or took a list away."""

    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, models.PROTECT, null=True, related_name="looks")
    route = models.CharField(max_length=60)
    rows = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["patient", "-at"], name="look_of_patient")]


class Submission(models.Model):
    """A form that was carried out: the same key again answers with `outcome` and does nothing."""

    key = models.UUIDField(primary_key=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    act = models.CharField(max_length=40)
    outcome = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField()
