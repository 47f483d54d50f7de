"""Letters that wait to be printed, batches that were, and letters to referrers that are proposed."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Final, NamedTuple

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from caseload.booking.notices import Channel, NoticeKind, arrives_before
from caseload.models import Appointment, Episode, LetterBatch, Notice, NoticeState, Standing
from caseload.reads.calendars import calendars_of
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Reader, limits_of, many_seen_by
from caseload.timetable.terms import Ending, Headline, Owner, rank

RECENT: Final = 10
PROPOSED: Final = 50
RANK: Final = rank(Headline.NOT_REBOOKED)


class Letters(NamedTuple):
    """How many letters can be printed now and how many become due later; the last batches, each with its number of
    `letters` and of those to `take_out`."""

    due: int
    later: int
    batches: list[LetterBatch]


def letters_due(now: datetime) -> QuerySet[Notice]:
    """Letters that may be printed: due, and not pointless yet."""
    return _waiting(now).filter(due_at__lte=now)


def _waiting(now: datetime) -> QuerySet[Notice]:
    """Letters that are not printed yet. One to a referrer goes out although its episode was closed meanwhile, unless
    the patient died."""
    still = Q(until_at__isnull=True) | Q(until_at__gt=now)
    waiting = Notice.objects.filter(still, state=NoticeState.WAITING, channel=Channel.LETTER, batch__isnull=True)
    return waiting.filter(~Exists(Episode.objects.filter(patient=OuterRef("patient"), ended_how=Ending.DIED)))


def letters(now: datetime) -> Letters:
    """In two queries."""
    counts = _waiting(now).aggregate(
        due=Count("pk", filter=Q(due_at__lte=now)), later=Count("pk", filter=Q(due_at__gt=now))
    )
    return Letters(**counts, batches=_BATCHES())


def _batches() -> QuerySet[LetterBatch]:
    rows = LetterBatch.objects.select_related("by", "posted_by").annotate(
        letters=Count("notices"), take_out=Count("notices", filter=Q(notices__state=NoticeState.WITHDRAWN))
    )
    return rows[:RECENT]


_BATCHES: Final = PreparedModels(_batches)


def proposed(today: date) -> QuerySet[Standing]:
    """Episodes that are with the lead because a visit was missed or cancelled and never rebooked, and whose referrer
    was not written to since. By rank as well, because an index begins with it."""
    written = Notice.objects.filter(
        kind=NoticeKind.REFERRER, episode=OuterRef("episode"), made_at__date__gte=OuterRef("from_on")
    ).exclude(state=NoticeState.WITHDRAWN)
    left = Standing.objects.on(today).filter(rank=RANK, headline=Headline.NOT_REBOOKED, owner=Owner.LEAD)
    return left.filter(~Exists(written))


def too_late(appointments: Iterable[Appointment], posted_on: date) -> set[int]:
    """Those that a letter posted on a day would not reach in time, by key (sites bring their region)."""
    rows = list(appointments)
    calendars = calendars_of({row.site_id: row.site for row in rows}.values()) if rows else {}
    return {row.pk for row in rows if not arrives_before(row.on, posted_on, calendars[row.site_id])}


def address_changed(notice: Notice) -> bool:
    """Whether a printed letter that waits to be posted shows an address that the patient has no more."""
    if notice.state != NoticeState.WAITING or notice.kind == NoticeKind.REFERRER:
        return False
    return notice.sent_to.partition("\n")[2].splitlines() != notice.patient.postal_address.strip().splitlines()


def is_proposed(episode: Episode, today: date) -> bool:
    return proposed(today).filter(episode=episode).exists()


def proposals(today: date, reader: Reader | None = None) -> tuple[list[Standing], int]:
    """The longest standing ones, with their episodes; and how many there are. Two queries."""
    found = proposed(today)
    if limits_of(reader) is None:
        return _PROPOSALS(today), found.count()
    episodes = Episode.objects.filter(pk__in=found.order_by().values("episode")).order_by()
    seen = list(many_seen_by(reader, episodes).values_list("pk", flat=True))
    return list(_longest(found.filter(episode__in=seen))), len(seen)


def _longest(found: QuerySet[Standing]) -> QuerySet[Standing]:
    return found.select_related("episode__patient", "episode__referral").order_by("from_on", "pk")[:PROPOSED]


_PROPOSALS: Final = PreparedModels(lambda today: _longest(proposed(today)))
