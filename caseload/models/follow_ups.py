"""Follow-ups as rows: derived, upserted under a lasting key, never deleted. They carry bookings, calls and lists."""

from django.db import models
from django.db.models import F, Q

from caseload.models.choices import choices, one_of
from caseload.models.episodes import Episode
from caseload.models.patients import Patient
from caseload.timetable import plan
from caseload.timetable.terms import Anchor, FollowUpKind


class State(models.TextChoices):
    DUE = "due", "due"
    DONE = "done", "done"
    DROPPED = "dropped", "not needed"


class FollowUpQuerySet(models.QuerySet["FollowUp"]):
    def due(self) -> "FollowUpQuerySet":
        return self.filter(state="due")


class FollowUp(models.Model):
    """The stored form of `timetable.plan.FollowUp`; columns of the same name mean the same.

    In addresses it is named by its episode's code and its key.
    """

    episode = models.ForeignKey(Episode, models.PROTECT, related_name="follow_ups")
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="+")
    key = models.CharField(max_length=40)
    kind = models.CharField(max_length=16, choices=choices(FollowUpKind))
    state = models.CharField(max_length=7, choices=State.choices)
    anchor = models.CharField(max_length=12, choices=choices(Anchor))
    anchor_on = models.DateField()
    earliest_on = models.DateField()
    target_on = models.DateField()
    latest_on = models.DateField()
    proposed_on = models.DateField(null=True)
    first_after_on = models.DateField(null=True)
    provisional = models.BooleanField()
    minutes = models.PositiveSmallIntegerField()
    in_person = models.BooleanField()
    done_on = models.DateField(null=True)
    booked_on = models.DateField(null=True)

    objects = FollowUpQuerySet.as_manager()

    DERIVED = (
        "kind", "anchor", "anchor_on", "earliest_on", "target_on", "latest_on", "proposed_on", "first_after_on",
        "provisional", "minutes", "in_person", "done_on", "booked_on",
    )  # fmt: skip

    class Meta:
        ordering = ["latest_on", "id"]
        indexes = [
            models.Index(fields=["latest_on", "id"], condition=Q(state="due"), name="follow_up_due_latest"),
            models.Index(fields=["proposed_on", "id"], condition=Q(state="due"), name="follow_up_due_proposed"),
            models.Index(fields=["patient", "state"], name="follow_up_of_patient"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["episode", "key"], name="follow_up_once"),
            models.UniqueConstraint(fields=["id", "patient"], name="follow_up_with_patient"),
            models.CheckConstraint(
                condition=Q(earliest_on__lte=F("target_on"), target_on__lte=F("latest_on")),
                name="follow_up_window_in_order",
            ),
            models.CheckConstraint(
                condition=Q(state="done", done_on__isnull=False) | ~Q(state="done") & Q(done_on__isnull=True),
                name="follow_up_done_on_a_day",
            ),
            models.CheckConstraint(
                condition=Q(proposed_on__isnull=True)
                | Q(proposed_on__gte=F("earliest_on"), proposed_on__lte=F("latest_on")),
                name="follow_up_proposed_inside_window",
            ),
            one_of("kind", FollowUpKind),
        ]

    def take(self, derived: plan.FollowUp) -> bool:
        """Become what was derived; say whether anything changed."""
        now = {name: getattr(derived, name) for name in self.DERIVED} | {"state": state_of(derived)}
        moved = {name: value for name, value in now.items() if getattr(self, name, None) != value}
        for name, value in moved.items():
            setattr(self, name, value)
        return bool(moved)

    def said(self) -> str:
        """The row in a few words, for the trail."""
        if self.state == State.DONE:
            return f"done {self.done_on}"
        window = f"{self.earliest_on}..{self.latest_on}, proposed {self.proposed_on}"
        return f"{State(self.state).label} {window}" if self.state else ""


def state_of(derived: plan.FollowUp) -> State:
    if derived.done_on is not None:
        return State.DONE
    return State.DROPPED if derived.dropped else State.DUE
