"""Who did or looked at what, when, from where and why; seals over it; and the keys that make a repeated form
harmless."""

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
    origin = models.CharField(max_length=60, blank=True, help_text="from where: a network address or a command")
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["patient", "-at"], name="trail_of_patient"),
            models.Index(fields=["subject", "subject_id", "-at"], name="trail_of_subject"),
            models.Index(fields=["at", "id"], name="trail_in_time"),
            models.Index(fields=["by", "at", "id"], name="trail_of_person"),
            models.Index(fields=["act", "at", "id"], name="trail_of_act"),
            models.Index(fields=["at", "id"], name="trail_with_reason", condition=~models.Q(why="")),
        ]


class Look(models.Model):
    """Somebody looked at a patient's page or took a list away."""

    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, models.PROTECT, null=True, related_name="looks")
    route = models.CharField(max_length=60)
    rows = models.PositiveIntegerField(default=1)
    origin = models.CharField(max_length=60, blank=True)
    why = models.CharField(max_length=200, blank=True, help_text="the reason given for a patient of somebody else")

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["patient", "-at"], name="look_of_patient"),
            models.Index(fields=["at", "id"], name="look_in_time"),
            models.Index(fields=["by", "at", "id"], name="look_of_person"),
            models.Index(fields=["at", "id"], name="look_with_reason", condition=~models.Q(why="")),
        ]


class Seal(models.Model):
    """A block of the trail, closed: `spans` is {"entries": [[first, last], ...], "looks": [...]} by key, `upto` the
    highest key of each that has been looked at, `digest` the SHA-256 over these rows and over the digest of the block
    `before`. `marks` is the beginning of each row's digest, by which a row that does not fit is found.
    """

    number = models.PositiveIntegerField(unique=True)
    at = models.DateTimeField()
    spans = models.JSONField()
    upto = models.JSONField(default=dict)
    rows = models.PositiveIntegerField()
    marks = models.TextField(default="")
    before = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["number"]


class Gone(models.Model):
    """A row of the trail that went with the record of its patient when its time was over: its digest stays, so that the
    seal over it still holds.
    """

    table = models.CharField(max_length=10)
    row = models.BigIntegerField()
    digest = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["table", "row"], name="gone_once")]


class BreakGlass(models.Model):
    """Somebody opened the record of a patient who is not theirs and said why; holds until `until_at`."""

    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="+")
    why = models.CharField(max_length=200)
    until_at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["by", "until_at"], name="break_glass_of_person")]
        constraints = [
            models.CheckConstraint(condition=~models.Q(why=""), name="break_glass_has_a_reason"),
            models.CheckConstraint(condition=models.Q(until_at__gt=models.F("at")), name="break_glass_ends_later"),
        ]


class Submission(models.Model):
    """A form that was carried out: the same key again answers with `outcome` and does nothing."""

    key = models.UUIDField(primary_key=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    act = models.CharField(max_length=40)
    outcome = models.CharField(max_length=60, blank=True)
    at = models.DateTimeField()
