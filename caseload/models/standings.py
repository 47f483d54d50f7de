"""Each open episode's headline over time: a partition of all days, so that one row answers for any day.

No passing of days ends a headline; only an act does, and an act rewrites these rows. "Who is overdue on day D" is
therefore `from_on <= D < until_on`, and the counts over all headlines and "in hand" add up to the open episodes.
"""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from caseload.models.choices import choices, one_of
from caseload.models.episodes import Episode
from caseload.models.sites import Site
from caseload.timetable.terms import Headline, Owner

EVER = date.max


class StandingQuerySet(models.QuerySet["Standing"]):
    def on(self, today: date) -> "StandingQuerySet":
        return self.filter(from_on__lte=today, until_on__gt=today)

    def overdue(self, today: date) -> "StandingQuerySet":
        return self.on(today).exclude(headline="")


class Standing(models.Model):
    """From `from_on` up to but not including `until_on`, `headline` (empty: in hand) is this episode's."""

    episode = models.ForeignKey(Episode, models.CASCADE, related_name="standings")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    # Two indexes begin with the therapist; one of its own would only be chosen before them.
    therapist = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", db_index=False)
    from_on = models.DateField()
    until_on = models.DateField()
    headline = models.CharField(max_length=16, choices=choices(Headline), blank=True)
    rank = models.PositiveSmallIntegerField()
    owner = models.CharField(max_length=10, choices=choices(Owner), blank=True)
    follow_up_key = models.CharField(max_length=40, blank=True)
    due_on = models.DateField(null=True)
    others = models.JSONField(default=list)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["rank", "due_on", "id"]
        indexes = [
            # Each holds all that its list asks for: the rows in their order, and the counts of every group.
            models.Index(fields=["rank", "due_on", "id", "until_on", "from_on"], name="standing_in_order"),
            models.Index(
                fields=["therapist", "rank", "due_on", "id", "until_on", "from_on"], name="standing_of_therapist"
            ),
            models.Index(
                fields=["therapist", "site", "headline", "owner", "from_on", "until_on"], name="standing_in_groups"
            ),
        ]
        constraints = [
            models.UniqueConstraint(fields=["episode", "from_on"], name="standing_one_by_day"),
            models.CheckConstraint(condition=Q(from_on__lt=F("until_on")), name="standing_days_in_order"),
            models.CheckConstraint(
                condition=Q(headline="", owner="") | ~Q(headline="") & ~Q(owner=""), name="standing_has_an_owner"
            ),
            one_of("headline", Headline, empty=True),
        ]
