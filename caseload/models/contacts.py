"""Calls and messages to a patient, and what came of them."""

from django.conf import settings
from django.db import models

from caseload.models.episodes import Episode
from caseload.models.patients import Patient


class How(models.TextChoices):
    PHONE = "phone", "telephone"
    EMAIL = "email", "e-mail"
    LETTER = "letter", "letter"
    IN_PERSON = "in-person", "in person"


class Reached(models.TextChoices):
    SPOKE = "spoke", "spoke to them"
    MESSAGE = "message-left", "message left"
    NO_ANSWER = "no-answer", "no answer"
    WRONG = "wrong-number", "wrong number"


class Contact(models.Model):
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="contacts")
    episode = models.ForeignKey(Episode, models.PROTECT, null=True, blank=True, related_name="contacts")
    how = models.CharField(max_length=10, choices=How.choices, default=How.PHONE)
    reached = models.CharField(max_length=12, choices=Reached.choices)
    text = models.CharField(max_length=500, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
