"""The person, and the numbers by which others know them."""

from django.db import models
from django.db.models import Q

from caseload.models.choices import choices
from caseload.models.codes import new_code
from caseload.parsing.identifiers import Scheme


class Patient(models.Model):
    """`search_key` is the normalised name, for finding; `phone` is as typed, `phone_key` its digits in normal form.

    `email_consent` says that they agreed to be written to by e-mail; `postal_address` has the lines of an envelope.
    Where `keep_why` says something, such as a legal claim, the record is kept beyond its time: until `keep_until_on`,
    without one until a lead takes that back.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    version = models.PositiveIntegerField(default=1)
    given = models.CharField(max_length=80)
    family = models.CharField(max_length=80)
    born_on = models.DateField(null=True, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    phone_key = models.CharField(max_length=20, blank=True)
    email = models.EmailField(blank=True)
    email_consent = models.BooleanField(default=False)
    postal_address = models.CharField(max_length=300, blank=True)
    language = models.CharField(max_length=60, blank=True)
    interpreter = models.BooleanField(default=False)
    dressing_allergy = models.CharField(max_length=120, blank=True)
    search_key = models.CharField(max_length=170)
    merged_into = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="+")
    demo = models.BooleanField(default=False)
    keep_why = models.CharField(max_length=200, blank=True)
    keep_until_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["family", "given", "id"]
        indexes = [
            models.Index(fields=["search_key"], name="patient_search"),
            models.Index(fields=["phone_key"], name="patient_phone"),
            models.Index(fields=["born_on"], name="patient_birth"),
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(family="") & ~Q(given=""), name="patient_has_a_name"),
            models.CheckConstraint(
                condition=Q(merged_into__isnull=True) | ~Q(merged_into=models.F("id")), name="patient_not_own_twin"
            ),
            models.CheckConstraint(
                condition=Q(keep_until_on__isnull=True) | ~Q(keep_why=""), name="patient_kept_with_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.family.upper()}, {self.given}"

    @property
    def full_name(self) -> str:
        return f"{self.given} {self.family}"


class Identifier(models.Model):
    """A number that names the patient elsewhere: `value` in normal form, `as_typed` as it came."""

    patient = models.ForeignKey(Patient, models.PROTECT, related_name="identifiers")
    scheme = models.CharField(max_length=20, choices=choices(Scheme))
    value = models.CharField(max_length=40)
    as_typed = models.CharField(max_length=60)

    class Meta:
        ordering = ["scheme", "value"]
        constraints = [
            models.UniqueConstraint(fields=["scheme", "value"], name="identifier_names_one_patient"),
            models.CheckConstraint(condition=~Q(value=""), name="identifier_not_empty"),
        ]
