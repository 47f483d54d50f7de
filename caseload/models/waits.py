"""Waits as rows: derived, kept equal to the record by every act; and months whose figures were filed for good."""

from collections.abc import Mapping

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from caseload.models.choices import choices
from caseload.models.codes import new_code
from caseload.models.episodes import Episode
from caseload.models.patients import Patient
from caseload.models.referrals import Referral
from caseload.models.sites import Site
from caseload.waits.terms import STORED, End

COUNTED = [
    "clock", "started_on", "stopped_on", "due_on", "ended", "entered_on", "site", "therapist", "surgeon", "suture",
    "priority", "earliest_on", "target_on", "missed_on", "restarted_on",
]  # fmt: skip


class Wait(models.Model):
    """One wait of one patient. Only `actions.waits` writes it; what it was derived from stands in `waits.clocks`.

    `key` names it for good, such as `wound-closed` or, of a wound that opened again, `wound-closed:f34`. `entered_on`:
    it came to us from elsewhere on that day. `due_on` is the last day within the target. A window has `earliest_on` and
    `target_on` too. `missed_on` is the last missed first visit, `restarted_on` the day when one was booked after it.
    What a wait is grouped by is copied here, so that a year of waits is counted from one table.
    """

    clock = models.CharField(max_length=24, choices=[(clock.value, clock.value) for clock in STORED])
    key = models.CharField(max_length=40)
    patient = models.ForeignKey(Patient, models.CASCADE, related_name="waits")
    episode = models.ForeignKey(Episode, models.CASCADE, null=True, blank=True, related_name="waits")
    referral = models.ForeignKey(Referral, models.CASCADE, null=True, blank=True, related_name="waits")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+", db_index=False)
    therapist = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", db_index=False
    )
    surgeon = models.CharField(max_length=120, blank=True)
    suture = models.CharField(max_length=14, blank=True)
    priority = models.CharField(max_length=10, blank=True)
    started_on = models.DateField()
    entered_on = models.DateField(null=True, blank=True)
    stopped_on = models.DateField(null=True, blank=True)
    ended = models.CharField(max_length=20, choices=choices(End))
    earliest_on = models.DateField(null=True, blank=True)
    target_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    missed_on = models.DateField(null=True, blank=True)
    restarted_on = models.DateField(null=True, blank=True)

    DERIVED = (
        "clock", "patient_id", "episode_id", "referral_id", "site_id", "therapist_id", "surgeon", "suture", "priority",
        "started_on", "entered_on", "stopped_on", "ended", "earliest_on", "target_on", "due_on", "missed_on",
        "restarted_on",
    )  # fmt: skip

    class Meta:
        ordering = ["started_on", "id"]
        indexes = [
            # Everything that is counted, so that a year of waits is read from the index alone.
            models.Index(fields=COUNTED, name="wait_counted"),
            models.Index(fields=["surgeon"], name="wait_surgeon"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["episode", "key"], name="wait_once_of_an_episode"),
            models.UniqueConstraint(fields=["referral", "key"], name="wait_once_of_a_referral"),
            models.CheckConstraint(
                condition=Q(episode__isnull=False, referral__isnull=True)
                | Q(episode__isnull=True, referral__isnull=False),
                name="wait_of_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(ended=End.WAITING, stopped_on__isnull=True)
                | ~Q(ended=End.WAITING) & Q(stopped_on__isnull=False),
                name="wait_stopped_on_a_day",
            ),
            models.CheckConstraint(
                condition=Q(stopped_on__isnull=True) | Q(stopped_on__gte=F("started_on")),
                name="wait_stops_after_its_start",
            ),
            models.CheckConstraint(
                condition=Q(restarted_on__isnull=True) | Q(missed_on__isnull=False, restarted_on__gte=F("missed_on")),
                name="wait_restarts_after_a_miss",
            ),
        ]

    def take(self, derived: Mapping[str, object]) -> bool:
        """Become what was derived; say whether anything changed."""
        moved = {name: value for name, value in derived.items() if getattr(self, name) != value}
        for name, value in moved.items():
            setattr(self, name, value)
        return bool(moved)

    def said(self) -> str:
        """The row in a few words, for a report of drift."""
        stop = f"{self.ended} {self.stopped_on}" if self.stopped_on else self.ended
        return f"from {self.started_on}, {stop}, due {self.due_on}"


class Filing(models.Model):
    """The figures of a month as they were filed: never changed or deleted, by triggers on both engines.

    `month` is its first day. `body` is read and written by `waits.filed`.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    month = models.DateField(unique=True)
    body = models.JSONField()
    filed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    filed_at = models.DateTimeField()

    class Meta:
        ordering = ["-month"]
        constraints = [models.CheckConstraint(condition=Q(month__day=1), name="filing_of_a_month")]
