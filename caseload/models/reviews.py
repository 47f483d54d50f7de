"""Reviews that a therapist set, and follow-ups that were carried out without a finding of their own."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.models.episodes import Episode
from caseload.models.follow_ups import FollowUp


class SetReview(models.Model):
    episode = models.ForeignKey(Episode, models.PROTECT, related_name="reviews")
    on = models.DateField()
    in_days = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField(default=20)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["on", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(in_days__gte=1, in_days__lte=365), name="setreview_within_a_year"),
            models.CheckConstraint(condition=Q(minutes__in=[20, 40, 60]), name="setreview_whole_slots"),
        ]

    @property
    def ref(self) -> str:
        return f"r{self.pk}"


class Completion(models.Model):
    """A follow-up was carried out on a day: what a review, unlike a removal, needs to be done.

    `visit` is the one at which it was; it goes when that visit is withdrawn.
    """

    follow_up = models.OneToOneField(FollowUp, models.PROTECT, related_name="completion")
    visit = models.ForeignKey("Visit", models.PROTECT, null=True, blank=True, related_name="completions")
    on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
