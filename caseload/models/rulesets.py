"""Signed-off day counts, whole and frozen; and what the lead proposes to change in them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.models.codes import new_code


class RuleSet(models.Model):
    """One version of one set of rules. `body` is what `timetable.rules.RuleSet` reads; `digest` is of that body."""

    name = models.CharField(max_length=60)
    version = models.CharField(max_length=20)
    title = models.CharField(max_length=120)
    body = models.JSONField()
    digest = models.CharField(max_length=64)
    signed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    signed_at = models.DateTimeField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(fields=["name", "version"], name="ruleset_version_once"),
            models.UniqueConstraint(
                fields=["name"],
                condition=Q(signed_at__isnull=False, retired_at__isnull=True),
                name="ruleset_one_in_force_by_name",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.version}"


class RuleChange(models.Model):
    """A copy of `base` that a lead changes: open, then signed by a second person and made into `made`, or withdrawn.

    `effect` is what the change would move, as counted when it was last looked at; `second` or `second_name` is who
    signed beside `proposed_by`: another lead, or a surgeon by name.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    base = models.ForeignKey(RuleSet, models.PROTECT, related_name="changes")
    body = models.JSONField()
    why = models.CharField(max_length=200)
    effect = models.JSONField(null=True, blank=True)
    effect_at = models.DateTimeField(null=True, blank=True)
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    second = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    second_name = models.CharField(max_length=120, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    made = models.OneToOneField(RuleSet, models.PROTECT, null=True, blank=True, related_name="made_by")
    job = models.ForeignKey("Job", models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-proposed_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(signed_at__isnull=True) | Q(second__isnull=False) | ~Q(second_name=""),
                name="rule_change_signed_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(second__isnull=True) | ~Q(second=models.F("proposed_by")), name="rule_change_two_people"
            ),
            models.CheckConstraint(
                condition=Q(signed_at__isnull=True) | Q(withdrawn_at__isnull=True), name="rule_change_one_end"
            ),
        ]
