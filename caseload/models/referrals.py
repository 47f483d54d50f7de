"""The request for therapy. It has a state of its own and may cover several episodes."""

from django.db import models
from django.db.models import F, Q

from caseload.models.choices import choices
from caseload.models.codes import new_code
from caseload.models.patients import Patient
from caseload.parsing.answers import Priority


class ReferralEnd(models.TextChoices):
    COMPLETED = "completed", "completed"
    DECLINED = "declined", "declined by the patient"
    UNSEEN = "discharged-unseen", "discharged unseen"
    TRANSFERRED = "transferred", "transferred"
    DIED = "died", "died"


class Referral(models.Model):
    """`received_on` is the day of receipt, also elsewhere: then `arrived_on` is the day on which it came to us."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="referrals")
    received_on = models.DateField()
    arrived_on = models.DateField(null=True, blank=True)
    source = models.CharField(max_length=120)
    priority = models.CharField(max_length=10, choices=choices(Priority), default=Priority.ROUTINE)
    reason = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    ended_on = models.DateField(null=True, blank=True)
    ended_how = models.CharField(max_length=20, choices=ReferralEnd.choices, blank=True)

    class Meta:
        ordering = ["-received_on", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["id", "patient"], name="referral_with_patient"),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, ended_how="") | (Q(ended_on__isnull=False) & ~Q(ended_how="")),
                name="referral_end_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("received_on")), name="referral_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(arrived_on__isnull=True) | Q(arrived_on__gte=F("received_on")),
                name="referral_arrived_after_it_was_received",
            ),
        ]
