"""What somebody typed and did not save yet, kept so that no time-out, closed tab or conflict loses it."""

from django.conf import settings
from django.db import models


class Draft(models.Model):
    """`place` is the address of the form; `body` is {field: [values]} as it was typed."""

    staff = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="drafts")
    place = models.CharField(max_length=200)
    body = models.JSONField(default=dict)
    saved_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["staff", "place"], name="draft_once_at_a_place")]
