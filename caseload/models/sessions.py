"""The diary's room: weekly sessions, the dated sessions made from them, their slots, and who is away.

Minutes are those of the site's local day, so a session keeps its hours over a clock change.
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Mod
from django.db.models.lookups import Exact

from caseload.booking.slots import DAY, SLOT, STEP
from caseload.models.codes import new_code
from caseload.models.sites import Site
from caseload.timetable.terms import FollowUpKind, Way


def every_way() -> list[str]:
    return [str(way) for way in Way]


class Hours(models.Model):
    """Who holds a session, where, from when to when, and what it takes: kinds of follow-up (none named: every kind)
    and ways of visit."""

    therapist = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    site = models.ForeignKey(Site, models.PROTECT, related_name="+")
    start_minute = models.PositiveSmallIntegerField()
    end_minute = models.PositiveSmallIntegerField()
    takes = models.JSONField(default=list, blank=True)
    ways = models.JSONField(default=every_way)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(start_minute__gte=0, end_minute__lte=DAY, end_minute__gte=F("start_minute") + SLOT),
                name="%(class)s_has_room_for_a_slot",
            ),
            models.CheckConstraint(
                condition=Q(Exact(Mod("start_minute", STEP), 0), Exact(Mod("end_minute", STEP), 0)),
                name="%(class)s_in_whole_ten_minutes",
            ),
        ]

    @property
    def kinds(self) -> frozenset[FollowUpKind]:
        return frozenset(map(FollowUpKind, self.takes))

    @property
    def by_way(self) -> frozenset[Way]:
        return frozenset(map(Way, self.ways))


class WeeklySession(Hours):
    """A session held every week on `weekday` (0 is Monday) from `starts_on`, until `ends_on` if that is set."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    weekday = models.PositiveSmallIntegerField()
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta(Hours.Meta):
        ordering = ["weekday", "start_minute", "id"]
        constraints = [
            *Hours.Meta.constraints,
            models.CheckConstraint(condition=Q(weekday__lte=6), name="weeklysession_weekday"),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(starts_on__lte=F("ends_on")), name="weeklysession_days_in_order"
            ),
        ]


class Session(Hours):
    """One session on one day. One that does not take place is kept, not `live`, with the reason.

    `changed` says that it is not, or no more, as its weekly session would have it: remaking leaves it alone.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    weekly = models.ForeignKey(WeeklySession, models.PROTECT, null=True, blank=True, related_name="sessions")
    on = models.DateField()
    live = models.BooleanField(default=True)
    changed = models.BooleanField(default=False)
    lost_why = models.CharField(max_length=200, blank=True)

    class Meta(Hours.Meta):
        ordering = ["on", "start_minute", "id"]
        indexes = [models.Index(fields=["site", "on"], condition=Q(live=True), name="session_live_of_site")]
        constraints = [
            *Hours.Meta.constraints,
            models.UniqueConstraint(fields=["weekly", "on"], name="session_once_a_week"),
            models.CheckConstraint(
                condition=Q(live=True, lost_why="") | Q(live=False) & ~Q(lost_why=""), name="session_lost_has_a_reason"
            ),
        ]


class Slot(models.Model):
    """Twenty minutes of a session. `held_why` keeps it back from offers. A lost session's slots are not `live`.

    No therapist can be in two places: slots begin on whole ten minutes and are twenty long, so two of them overlap
    exactly when they share a twenty-minute box of the day, counted from the hour or from ten past.
    """

    session = models.ForeignKey(Session, models.CASCADE, related_name="slots")
    therapist = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    on = models.DateField()
    minute = models.PositiveSmallIntegerField()
    live = models.BooleanField(default=True)
    held_why = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["session", "minute"]
        constraints = [
            models.UniqueConstraint(fields=["session", "minute"], name="slot_once"),
            models.UniqueConstraint(
                F("therapist"), F("on"), F("minute") / SLOT, condition=Q(live=True), name="slot_one_place_at_a_time"
            ),
            models.UniqueConstraint(
                F("therapist"), F("on"), (F("minute") + STEP) / SLOT,
                condition=Q(live=True), name="slot_one_place_at_ten_past",
            ),
        ]  # fmt: skip


class Absence(models.Model):
    """Days on which a therapist is away, both ends included. What is theirs passes to `cover`, else to the lead."""

    therapist = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="absences")
    starts_on = models.DateField()
    ends_on = models.DateField()
    reason = models.CharField(max_length=120)
    cover = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="covers"
    )  # fmt: skip

    class Meta:
        ordering = ["starts_on", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(starts_on__lte=F("ends_on")), name="absence_days_in_order"),
            models.CheckConstraint(condition=~Q(reason=""), name="absence_has_a_reason"),
            models.CheckConstraint(
                condition=Q(cover__isnull=True) | ~Q(cover=F("therapist")), name="absence_covered_by_another"
            ),
        ]


class Feed(models.Model):
    """A private calendar address of a therapist. Only a digest of its key is kept: the address is shown once."""

    staff = models.OneToOneField(settings.AUTH_USER_MODEL, models.CASCADE, related_name="feed")
    digest = models.CharField(max_length=64, unique=True)
    initials = models.BooleanField(default=False)
    made_at = models.DateTimeField()
