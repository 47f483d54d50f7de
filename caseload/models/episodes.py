"""Episodes: one operated digit of one hand from its surgery until it is closed; and the surgeon's instructions."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from caseload.models.choices import choices, one_of
from caseload.models.codes import new_code
from caseload.models.patients import Patient
from caseload.models.referrals import Referral
from caseload.models.rulesets import RuleSet
from caseload.models.sites import Site
from caseload.timetable.terms import Digit, Ending, Owner, Side, Suture, Technique


class Work(models.TextChoices):
    HAND_NOT_NEEDED = "hand-not-needed", "hand not needed"
    LIGHT_MANUAL = "light-manual", "light manual"
    HEAVY_MANUAL = "heavy-manual", "heavy manual"
    WET_OR_DIRTY = "wet-or-dirty", "wet or dirty"


class EpisodeQuerySet(models.QuerySet["Episode"]):
    def open(self) -> "EpisodeQuerySet":
        return self.filter(ended_on__isnull=True)

    def on_caseload(self, today: date) -> "EpisodeQuerySet":
        """Open, and operated on: a surgery date in the future is planned and outside the caseload."""
        return self.open().filter(Q(surgery_on__isnull=True) | Q(surgery_on__lte=today))

    def planned(self, today: date) -> "EpisodeQuerySet":
        return self.open().filter(surgery_on__gt=today)


class Episode(models.Model):
    """`next_*` and the rows of FollowUp and Standing are derived: only `actions.episodes.settle` writes them.

    `arrived_on` is the day on which a patient who was operated on and looked after elsewhere was transferred to us.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="episodes")
    referral = models.ForeignKey(Referral, models.PROTECT, null=True, blank=True, related_name="episodes")
    site = models.ForeignKey(Site, models.PROTECT, related_name="episodes")
    therapist = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="episodes"
    )
    surgeon = models.CharField(max_length=120, blank=True)
    surgery_on = models.DateField(null=True, blank=True)
    arrived_on = models.DateField(null=True, blank=True)
    side = models.CharField(max_length=5, choices=choices(Side), blank=True)
    digit = models.CharField(max_length=6, choices=choices(Digit), blank=True)
    technique = models.CharField(max_length=12, choices=choices(Technique), default=Technique.OPEN)
    suture = models.CharField(max_length=14, choices=choices(Suture), default=Suture.UNKNOWN)
    stitches_in = models.PositiveSmallIntegerField(null=True, blank=True)
    material = models.CharField(max_length=60, blank=True)
    dominant = models.CharField(max_length=5, choices=choices(Side), blank=True)
    risks = models.JSONField(default=list, blank=True)
    raised_risk = models.BooleanField(default=False)
    for_therapy = models.BooleanField(default=False)
    work = models.CharField(max_length=16, choices=Work.choices, blank=True)
    notes = models.TextField(max_length=2000, blank=True)
    rules = models.ForeignKey(RuleSet, models.PROTECT, related_name="episodes")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    ended_how = models.CharField(max_length=20, choices=choices(Ending), blank=True)
    received_by = models.CharField(max_length=120, blank=True)
    reoperation_of = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="reoperations")
    next_kind = models.CharField(max_length=20, blank=True)
    next_on = models.DateField(null=True, blank=True)
    next_owner = models.CharField(max_length=10, choices=choices(Owner), blank=True)

    objects = EpisodeQuerySet.as_manager()

    class Meta:
        ordering = ["-surgery_on", "-id"]
        indexes = [
            models.Index(fields=["patient", "ended_on"], name="episode_of_patient"),
            models.Index(
                fields=["site", "therapist", "next_on", "id"],
                condition=Q(ended_on__isnull=True),
                name="episode_open",
            ),
            models.Index(fields=["surgery_on", "id"], condition=Q(ended_on__isnull=True), name="episode_open_surgery"),
            models.Index(
                fields=["next_on", "id", "surgery_on"], condition=Q(ended_on__isnull=True), name="episode_open_next"
            ),
            models.Index(
                fields=["therapist", "next_on", "id", "surgery_on"],
                condition=Q(ended_on__isnull=True),
                name="episode_open_of",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "side", "digit", "surgery_on"],
                condition=~Q(ended_how=Ending.NOT_DONE) & ~Q(side="") & ~Q(digit="") & Q(surgery_on__isnull=False),
                name="episode_once",
            ),
            models.UniqueConstraint(fields=["id", "patient"], name="episode_with_patient"),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, ended_how="") | (Q(ended_on__isnull=False) & ~Q(ended_how="")),
                name="episode_end_is_whole",
            ),
            models.CheckConstraint(
                condition=~Q(ended_how__in=[Ending.TRANSFERRED, Ending.REFERRED_BACK]) | ~Q(received_by=""),
                name="episode_handed_to_someone",
            ),
            models.CheckConstraint(
                condition=Q(stitches_in__isnull=True) | Q(stitches_in__lte=60), name="episode_stitches_countable"
            ),
            models.CheckConstraint(
                condition=Q(reoperation_of__isnull=True) | ~Q(reoperation_of=F("id")),
                name="episode_not_own_reoperation",
            ),
            one_of("side", Side, empty=True),
            one_of("digit", Digit, empty=True),
            one_of("technique", Technique),
            one_of("suture", Suture),
            one_of("ended_how", Ending, empty=True),
        ]

    def __str__(self) -> str:
        return f"{self.side or 'side?'} {self.digit or 'digit?'}"


class Instruction(models.Model):
    """What the surgeon ordered for one item; `confirmed_for` is the surgery date for which it holds."""

    episode = models.ForeignKey(Episode, models.PROTECT, related_name="instructions")
    item = models.CharField(max_length=20)
    earliest = models.PositiveSmallIntegerField(null=True, blank=True)
    target = models.PositiveSmallIntegerField(null=True, blank=True)
    latest = models.PositiveSmallIntegerField(null=True, blank=True)
    from_day = models.PositiveSmallIntegerField(null=True, blank=True)
    locked = models.BooleanField(default=False)
    by_whom = models.CharField(max_length=120)
    why = models.CharField(max_length=200)
    confirmed_for = models.DateField(null=True, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["episode", "item"],
                condition=Q(withdrawn_at__isnull=True),
                name="instruction_one_standing_by_item",
            ),
            models.CheckConstraint(condition=~Q(by_whom="") & ~Q(why=""), name="instruction_says_who_and_why"),
            models.CheckConstraint(
                condition=Q(
                    earliest__isnull=False,
                    target__isnull=False,
                    latest__isnull=False,
                    earliest__lte=F("target"),
                    target__lte=F("latest"),
                    from_day__isnull=True,
                    locked=False,
                )
                | Q(
                    earliest__isnull=True,
                    target__isnull=True,
                    latest__isnull=True,
                    from_day__isnull=False,
                    locked=False,
                )
                | Q(
                    earliest__isnull=True, target__isnull=True, latest__isnull=True, from_day__isnull=True, locked=True
                ),
                name="instruction_says_one_thing",
            ),
        ]
