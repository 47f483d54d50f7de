"""Notices as pages show them: those of a patient, the news about an appointment, and how e-mail is doing."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from django.db.models import Count, Max, Q, QuerySet
from django.utils import timezone

from caseload.booking.notices import REMINDERS, Channel
from caseload.models import Appointment, Episode, Notice, NoticeState, Patient, Pulse
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Reader, seen_by

ENTRIES: Final = 100
FAILURES: Final = 50
QUIET: Final = timedelta(minutes=5)
"""Background work that was not seen for so long is not running."""


class Mail(NamedTuple):
    """E-mails that wait and are due, those sent today, and those that failed and whose patient does not know yet;
    `seen_at` is when background work last showed itself, `quiet` that this is too long ago."""

    waiting: int
    sent_today: int
    failed: list[Notice]
    seen_at: datetime | None
    quiet: bool


def notices_of(patient: Patient, episode: Episode | None = None) -> list[Notice]:
    """The latest first; of one episode where it is given. One query."""
    return _NOTICES(patient.pk, *([episode.pk] if episode else []))


def _notices(patient: int, *episode: int) -> QuerySet[Notice]:
    rows = Notice.objects.filter(patient=patient)
    if episode:
        about = Appointment.objects.filter(purposes__follow_up__episode=episode[0])
        rows = rows.filter(Q(episode=episode[0]) | Q(appointment__in=about))
    rows = rows.select_related("appointment", "batch", "withdrawn_by", "episode")
    return rows.order_by("-due_at", "-pk")[:ENTRIES]


_NOTICES: Final = PreparedModels(_notices)


def _news(appointments: Iterable[int]) -> QuerySet[Notice]:
    rows = Notice.objects.filter(appointment__in=appointments).exclude(kind__in=REMINDERS)
    return rows.exclude(state=NoticeState.WITHDRAWN).select_related("batch").order_by("pk")


_NEWS: Final = PreparedModels(_news)


def news_of(appointments: Sequence[Appointment]) -> dict[int, Notice]:
    """The news that was or will be written about each of these as it stands now, by its key. One query."""
    sequences = {row.pk: row.sequence for row in appointments}
    found = {}
    for row in _NEWS([*sequences]):
        if row.key.endswith(f"-{sequences[row.appointment_id or 0]}"):
            found[row.appointment_id or 0] = row
    return found


def mail(now: datetime, reader: Reader | None = None) -> Mail:
    """In three queries."""
    midnight = timezone.localtime(now).replace(hour=0, minute=0, second=0, microsecond=0)
    written = Notice.objects.filter(channel=Channel.EMAIL)
    due = Q(state=NoticeState.WAITING, due_at__lte=now)
    counts = written.aggregate(waiting=Count("pk", filter=due), sent_today=Count("pk", filter=Q(sent_at__gte=midnight)))
    failed = seen_by(reader, written).filter(state=NoticeState.FAILED, appointment__untold_since_on__isnull=False)
    rows = failed.select_related("patient", "appointment").order_by("-due_at", "-pk")[:FAILURES]
    seen_at = Pulse.objects.aggregate(at=Max("at"))["at"]
    return Mail(**counts, failed=list(rows), seen_at=seen_at, quiet=seen_at is None or now - seen_at > QUIET)
