"""What is still free in the diary, and the best places in it: one query, however full it is."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from functools import cache
from itertools import groupby
from typing import Any, Final

from django.db.models import QuerySet

from caseload.booking.clock import local_of
from caseload.booking.needs import Asked, Need, one_visit
from caseload.booking.offers import Offer, every_place, offers
from caseload.booking.openings import Opening
from caseload.models import FollowUp, Session, Slot
from caseload.reads.prepared import Prepared
from caseload.timetable.terms import FollowUpKind, Way

BEYOND: Final = timedelta(days=21)
"""So far after its last day a place is looked for when the window has none left."""
_FIELDS: Final = (
    "session_id", "session__code", "on", "session__site_id", "therapist_id", "session__start_minute",
    "session__end_minute", "session__takes", "session__ways", "minute",
)  # fmt: skip


def openings_between(sites: Iterable[int], first: date, last: date) -> tuple[Opening, ...]:
    """The sessions of some sites that have a free slot from `first` to `last`, in order, in one query."""
    return tuple(_openings(_FREE(sorted(set(sites)), first, last)))


def _free(sites: Iterable[int], first: date, last: date) -> QuerySet[Slot, Any]:
    """The days are said of the session too: its index finds a few by them, where a site has had very many slots."""
    held = {"session__live": True, "session__on__gte": first, "session__on__lte": last}
    rows = Slot.objects.filter(
        session__site__in=sites, on__gte=first, on__lte=last, live=True, held_why="", seat__isnull=True, **held
    )
    return rows.order_by("on", "session_id", "minute").values_list(*_FIELDS)


_FREE: Final = Prepared(_free)


def sessions_between(sites: Iterable[int], first: date, last: date) -> tuple[Opening, ...]:
    """The same with those that are full, which have nothing free; in one query more."""
    chosen = set(sites)
    free = openings_between(chosen, first, last)
    held = Session.objects.filter(live=True, site__in=chosen, on__gte=first, on__lte=last)
    known = {each.session for each in free}
    return (*free, *(_full(row) for row in held if row.pk not in known))


def _full(row: Session) -> Opening:
    return Opening(
        row.pk, row.code, row.on, row.site_id, row.therapist_id, row.start_minute, row.end_minute, row.kinds,
        row.by_way, (),
    )  # fmt: skip


def _openings(rows: Iterable[tuple[Any, ...]]) -> Iterator[Opening]:
    for session, slots in groupby(rows, key=lambda row: row[0]):
        first, *rest = slots
        code, on, site, therapist, start, end, takes, ways, minute = first[1:]
        free = (minute, *(row[-1] for row in rest))
        yield Opening(session, code, on, site, therapist, start, end, _kinds(tuple(takes)), _ways(tuple(ways)), free)


@cache
def _kinds(words: tuple[str, ...]) -> frozenset[FollowUpKind]:
    return frozenset(map(FollowUpKind, words))


@cache
def _ways(words: tuple[str, ...]) -> frozenset[Way]:
    return frozenset(map(Way, words))


def asked_of(row: FollowUp, name: str = "") -> Asked:
    """A stored follow-up as booking asks for it; `name` is the caller's, else its key."""
    return Asked(
        name or row.key, FollowUpKind(row.kind), row.earliest_on, row.target_on, row.latest_on, row.minutes,
        row.in_person, row.provisional,
    )  # fmt: skip


def need_of(rows: Sequence[FollowUp]) -> Need:
    """One visit for some follow-ups of a patient, which bring their episode and patient. Raises `windows-apart`."""
    first = rows[0].episode
    return one_visit(
        [asked_of(row, f"{row.episode.code}/{row.key}") for row in rows],
        site=first.site_id, therapist=first.therapist_id, interpreter=rows[0].patient.interpreter,
    )  # fmt: skip


def offers_for(
    rows: Sequence[FollowUp], *, at: datetime, way: Way = Way.IN_PERSON, most: int = 6, approved: bool = False
) -> tuple[Offer, ...]:
    """The best places for some follow-ups of one patient; rows bring episode, site and patient. One query.

    Raises Refusal `windows-apart` or `needs-in-person`.
    """
    need = need_of(rows)
    today, minute = local_of(at, rows[0].episode.site.zone)
    first = today if approved else max(today, need.earliest)
    openings = openings_between([need.site], first, max(need.latest, today) + BEYOND)
    return offers(need, openings, way=way, today=today, minute=minute, most=most, approved=approved)


def places_on(rows: Sequence[FollowUp], on: date, *, at: datetime, way: Way = Way.IN_PERSON) -> tuple[Offer, ...]:
    """Every free place on a day that somebody chose, early and late ones named as such. One query; raises the same."""
    need = need_of(rows)
    today, minute = local_of(at, rows[0].episode.site.zone)
    return every_place(need, openings_between([need.site], on, on), way=way, today=today, minute=minute)
