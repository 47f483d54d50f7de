"""Theatre lists as they were uploaded, row by row, with what was decided about each. Nothing here is the record."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.models.codes import new_code
from caseload.models.patients import Patient
from caseload.models.sites import Site


class IntakeSource(models.Model):
    """Where lists come from, and what its headers mean: `columns` is field -> header, once somebody has said so.

    `month_first` are the fields whose dates it writes month first.
    """

    name = models.CharField(max_length=80, unique=True)
    columns = models.JSONField(default=dict)
    month_first = models.JSONField(default=list)
    used_at = models.DateTimeField()

    class Meta:
        ordering = ["-used_at", "-id"]


class IntakeBatch(models.Model):
    """One uploaded list. `site` is for rows that name none; `question` is what to answer before rows can be read;
    `other_sheets` are those of its workbook that hold something and were not read."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    source = models.ForeignKey(IntakeSource, models.PROTECT, related_name="batches")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    file_name = models.CharField(max_length=200)
    workbook = models.BooleanField()
    digest = models.CharField(max_length=64, db_index=True)
    headers = models.JSONField()
    other_sheets = models.JSONField(default=list)
    columns = models.JSONField(default=dict)
    month_first = models.JSONField(default=list)
    question = models.CharField(max_length=1000, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    uploaded_at = models.DateTimeField()
    uploaded_on = models.DateField()
    confirmed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    confirmed_at = models.DateTimeField(null=True, blank=True)
    forgotten_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-uploaded_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(forgotten_at__isnull=True) | Q(confirmed_at__isnull=False),
                name="intakebatch_forgotten_after_confirming",
            )
        ]


class Verdict(models.TextChoices):
    NEW = "new", "new"
    CHANGED = "changed", "changed"
    KNOWN = "known", "already known"
    DOUBTFUL = "doubtful", "doubtful"
    REFUSED = "refused", "refused"


class IntakeRow(models.Model):
    """`cells` as read, `entry` what they mean (null where refused), `match` what the record says to it.

    `verdict` stays what it was found to be; `decision` is what somebody answered to a doubtful row, and `outcome` what
    taking the row does, empty while it cannot be taken. `identity` stands for the names and numbers in the row, so that
    the same person in a later list is known again; `episodes` are the codes of those it made or met, by digit.
    """

    batch = models.ForeignKey(IntakeBatch, models.CASCADE, related_name="rows")
    number = models.PositiveIntegerField()
    cells = models.JSONField()
    entry = models.JSONField(null=True)
    problems = models.JSONField(default=list)
    match = models.JSONField(default=dict)
    decision = models.JSONField(default=dict)
    verdict = models.CharField(max_length=8, choices=Verdict.choices)
    outcome = models.CharField(max_length=8, choices=Verdict.choices, blank=True)
    identity = models.CharField(max_length=32, blank=True)
    patient = models.ForeignKey(Patient, models.PROTECT, null=True, blank=True, related_name="+")
    episodes = models.JSONField(default=dict)
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number", "id"]
        indexes = [
            models.Index(fields=["batch", "verdict", "number"], name="intakerow_by_verdict"),
            models.Index(fields=["identity"], condition=Q(taken_at__isnull=False), name="intakerow_taken_identity"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["batch", "number"], name="intakerow_once"),
            models.CheckConstraint(
                condition=~Q(outcome__in=["doubtful", "refused"]), name="intakerow_outcome_is_known"
            ),
            models.CheckConstraint(
                condition=Q(taken_at__isnull=True) | Q(patient__isnull=False), name="intakerow_taken_for_a_patient"
            ),
        ]
