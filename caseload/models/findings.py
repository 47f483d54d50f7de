"""What was found, by whom, on which day. Nothing here is ever changed: a mistake is corrected by a later row.

`first` is the finding at the head of a chain of corrections: the identity that caused follow-ups hang on.
A finding stands while nothing corrects it and it is not itself a withdrawal.
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from caseload.models.choices import choices, one_of
from caseload.models.episodes import Episode
from caseload.models.visits import Visit
from caseload.timetable.terms import FindingKind, Source, WoundState


class FindingQuerySet(models.QuerySet["Finding"]):
    def standing(self) -> "FindingQuerySet":
        return self.filter(corrected_by__isnull=True, withdraws=False)

    def in_order(self) -> "FindingQuerySet":
        """By their day, then as they came in: a correction takes the place of what it corrects, on every database.
        `known_on` is the day on which the first of its chain was recorded."""
        known = self.annotate(known_on=Coalesce("first__recorded_on", "recorded_on"))
        return known.order_by("on", "known_on", Coalesce("first_id", "id"), "id")


class Finding(models.Model):
    episode = models.ForeignKey(Episode, models.PROTECT, related_name="findings")
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, blank=True, related_name="findings")
    kind = models.CharField(max_length=12, choices=choices(FindingKind))
    on = models.DateField()
    source = models.CharField(max_length=8, choices=choices(Source), default=Source.SEEN)
    reported_by = models.CharField(max_length=120, blank=True)
    stitches_out = models.PositiveSmallIntegerField(null=True, blank=True)
    stitches_left = models.PositiveSmallIntegerField(null=True, blank=True)
    confirmed_full = models.BooleanField(default=False)
    wound = models.CharField(max_length=10, choices=choices(WoundState), blank=True)
    note = models.CharField(max_length=500, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField()
    first = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    corrects = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="corrected_by")
    withdraws = models.BooleanField(default=False)

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["on", "id"]
        indexes = [models.Index(fields=["episode", "on", "id"], name="finding_of_episode")]
        constraints = [
            one_of("kind", FindingKind),
            one_of("source", Source),
            one_of("wound", WoundState, empty=True),
            models.CheckConstraint(
                condition=Q(kind=FindingKind.STITCHES, stitches_out__isnull=False, stitches_left__isnull=False)
                | ~Q(kind=FindingKind.STITCHES) & Q(stitches_out__isnull=True, stitches_left__isnull=True),
                name="finding_counts_stitches",
            ),
            models.CheckConstraint(
                condition=Q(kind=FindingKind.WOUND) & ~Q(wound="") | ~Q(kind=FindingKind.WOUND) & Q(wound=""),
                name="finding_says_wound_state",
            ),
            models.CheckConstraint(
                condition=~Q(source=Source.REPORTED) | ~Q(reported_by=""), name="finding_names_its_reporter"
            ),
            models.CheckConstraint(condition=Q(on__lte=F("recorded_on")), name="finding_not_in_the_future"),
            models.CheckConstraint(
                condition=Q(withdraws=False) | Q(corrects__isnull=False), name="finding_withdraws_something"
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True, first__isnull=True) | Q(corrects__isnull=False, first__isnull=False),
                name="finding_correction_knows_its_first",
            ),
        ]

    @property
    def ref(self) -> str:
        return f"f{self.first_id or self.pk}"


class Countersignature(models.Model):
    """A therapist vouches for a finding that was reported from elsewhere or seen on a picture."""

    finding = models.OneToOneField(Finding, models.PROTECT, related_name="countersignature")
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()


class RedFlagEscalation(models.Model):
    """To whom a red flag was passed on, as soon as somebody was asked; it stays open until it is closed.

    Whoever is asked after that is one row more: nobody's word about an earlier call is overwritten.
    """

    finding = models.ForeignKey(Finding, models.PROTECT, related_name="escalations")
    to = models.CharField(max_length=120)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [models.CheckConstraint(condition=~Q(to=""), name="red_flag_escalation_says_to_whom")]


class RedFlagClosure(models.Model):
    """How a red flag ended: to whom it was escalated and what came of it."""

    finding = models.OneToOneField(Finding, models.PROTECT, related_name="closure")
    on = models.DateField()
    escalated_to = models.CharField(max_length=120)
    outcome = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(escalated_to="") & ~Q(outcome=""), name="red_flag_closure_says_to_whom_and_what"
            )
        ]
