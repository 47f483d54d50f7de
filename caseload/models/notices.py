"""What goes out to patients and referrers: rows written with the act that makes them, sent and recorded later."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from caseload.booking.notices import Channel, NoticeKind
from caseload.models.appointments import Appointment
from caseload.models.choices import choices, one_of
from caseload.models.codes import new_code
from caseload.models.episodes import Episode
from caseload.models.patients import Patient


class NoticeState(models.TextChoices):
    WAITING = "waiting", "waiting"
    SENT = "sent", "sent"
    FAILED = "failed", "could not be sent"
    WITHDRAWN = "withdrawn", "withdrawn"


class LetterBatch(models.Model):
    """Letters printed together with their cover list; they count as sent once somebody says that they were posted."""

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    posted_at = models.DateTimeField(null=True, blank=True)
    posted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-made_at", "-id"]
        verbose_name_plural = "letter batches"
        constraints = [
            models.CheckConstraint(
                condition=Q(posted_at__isnull=True, posted_by__isnull=True)
                | Q(posted_at__isnull=False, posted_by__isnull=False),
                name="letter_batch_posted_by_somebody",
            )
        ]


class Notice(models.Model):
    """`key` names what it is about, so that none is made twice, and is its Message-ID; `code` stands in addresses.

    It goes out from `due_at` and is pointless from `until_at` on (empty: never). `claimed_until` is when another
    process may take it over. `sent_to` and `sent_text` are what really went out; `error` is a word, never an address.
    """

    code = models.CharField(max_length=12, unique=True, default=new_code, editable=False)
    key = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=12, choices=choices(NoticeKind))
    channel = models.CharField(max_length=6, choices=choices(Channel))
    state = models.CharField(max_length=9, choices=NoticeState.choices, default=NoticeState.WAITING)
    patient = models.ForeignKey(Patient, models.PROTECT, related_name="notices")
    appointment = models.ForeignKey(Appointment, models.SET_NULL, null=True, blank=True, related_name="notices")
    episode = models.ForeignKey(Episode, models.PROTECT, null=True, blank=True, related_name="notices")
    made_at = models.DateTimeField()
    due_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    error = models.CharField(max_length=40, blank=True)
    batch = models.ForeignKey(LetterBatch, models.PROTECT, null=True, blank=True, related_name="notices")
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_to = models.CharField(max_length=300, blank=True)
    sent_text = models.TextField(blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["due_at", "id"]
        indexes = [
            models.Index(fields=["channel", "due_at", "id"], condition=Q(state="waiting"), name="notice_waiting"),
            models.Index(fields=["patient", "due_at", "id"], name="notice_of_patient"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False) | ~Q(state="sent") & Q(sent_at__isnull=True),
                name="notice_sent_at_an_instant",
            ),
            models.CheckConstraint(
                condition=Q(state="withdrawn", withdrawn_at__isnull=False)
                | ~Q(state="withdrawn") & Q(withdrawn_at__isnull=True, withdrawn_by__isnull=True, withdrawn_why=""),
                name="notice_withdrawn_at_an_instant",
            ),
            models.CheckConstraint(
                condition=Q(until_at__isnull=True) | Q(due_at__lt=models.F("until_at")),
                name="notice_due_before_its_end",
            ),
            models.CheckConstraint(
                condition=Q(kind=NoticeKind.REFERRER, episode__isnull=False, channel=Channel.LETTER)
                | ~Q(kind=NoticeKind.REFERRER) & Q(episode__isnull=True),
                name="notice_to_a_referrer_is_of_an_episode",
            ),
            models.CheckConstraint(
                condition=Q(batch__isnull=True) | Q(channel=Channel.LETTER), name="notice_in_a_batch_is_a_letter"
            ),
            one_of("kind", NoticeKind),
            one_of("channel", Channel),
        ]
