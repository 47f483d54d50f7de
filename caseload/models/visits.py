"""Visits: one look at the operated digits of a patient, with what was measured, taught and decided."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from caseload.measures.terms import MeasureKind
from caseload.models.appointments import Appointment
from caseload.models.choices import choices, one_of
from caseload.models.codes import new_code
from caseload.models.episodes import Episode
from caseload.models.patients import Patient
from caseload.models.reviews import SetReview
from caseload.timetable.terms import AfterVisit, Source


class Visit(models.Model):
    """What was found hangs on it as findings and measurements. A picture or a telephone call is a visit too: `source`
    says which. One that was recorded of the wrong person is withdrawn, with what hangs on it; it stays readable.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="visits")
    appointment = models.OneToOneField(Appointment, models.PROTECT, null=True, blank=True, related_name="visit")
    on = models.DateField()
    source = models.CharField(max_length=8, choices=choices(Source), default=Source.SEEN)
    reported_by = models.CharField(max_length=120, blank=True)
    taught = models.CharField(max_length=500, blank=True)
    note = models.CharField(max_length=1000, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["on", "id"]
        indexes = [models.Index(fields=["patient", "on", "id"], name="visit_of_patient")]
        constraints = [
            one_of("source", Source),
            models.CheckConstraint(
                condition=~Q(source=Source.REPORTED) | ~Q(reported_by=""), name="visit_names_its_reporter"
            ),
            models.CheckConstraint(condition=Q(on__lte=F("recorded_on")), name="visit_not_in_the_future"),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True, withdrawn_why="")
                | Q(withdrawn_at__isnull=False) & ~Q(withdrawn_why=""),
                name="visit_withdrawn_with_a_reason",
            ),
        ]


class Examined(models.Model):
    """One digit of a visit: what may begin (`started` holds kinds of activity) and what is to happen next."""

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="examined")
    episode = models.ForeignKey(Episode, models.PROTECT, related_name="examined")
    started = models.JSONField(default=list, blank=True)
    after = models.CharField(max_length=10, choices=choices(AfterVisit))
    review = models.OneToOneField(SetReview, models.PROTECT, null=True, blank=True, related_name="examined")
    received_by = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["visit", "id"]
        verbose_name_plural = "examined"
        constraints = [
            one_of("after", AfterVisit),
            models.UniqueConstraint(fields=["visit", "episode"], name="examined_once_in_a_visit"),
            models.CheckConstraint(
                condition=Q(after=AfterVisit.REVIEW, review__isnull=False)
                | ~Q(after=AfterVisit.REVIEW) & Q(review__isnull=True),
                name="examined_with_its_review",
            ),
            models.CheckConstraint(
                condition=~Q(after=AfterVisit.REFER_BACK) | ~Q(received_by=""), name="examined_referred_to_someone"
            ),
        ]


class MeasurementQuerySet(models.QuerySet["Measurement"]):
    def standing(self) -> "MeasurementQuerySet":
        return self.filter(corrected_by__isnull=True, withdraws=False)


class Measurement(models.Model):
    """One measure of one visit. `body` is read and written by the dataclass of its kind in `caseload.measures.bodies`.

    Append-only: a mistake is corrected by a later row that names the earlier one, or withdrawn by one.
    """

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="measurements")
    episode = models.ForeignKey(Episode, models.PROTECT, related_name="measurements")
    kind = models.CharField(max_length=10, choices=choices(MeasureKind))
    on = models.DateField()
    body = models.JSONField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    corrects = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="corrected_by")
    withdraws = models.BooleanField(default=False)
    why = models.CharField(max_length=300, blank=True)

    objects = MeasurementQuerySet.as_manager()

    class Meta:
        ordering = ["on", "id"]
        indexes = [models.Index(fields=["episode", "on", "id"], name="measurement_of_episode")]
        constraints = [
            one_of("kind", MeasureKind),
            models.UniqueConstraint(
                fields=["visit", "episode", "kind"], condition=Q(corrects__isnull=True), name="measurement_once"
            ),
            models.CheckConstraint(
                condition=Q(withdraws=False) | Q(corrects__isnull=False), name="measurement_withdraws_something"
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True) | ~Q(why=""), name="measurement_corrected_with_a_reason"
            ),
        ]
