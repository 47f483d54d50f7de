"""Signed-off day counts, whole and frozen."""

from django.conf import settings
from django.db import models
from django.db.models import Q


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
