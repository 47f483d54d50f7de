"""One visit about to be booked or moved: what it is for, what else it can serve, and the best places for it."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db.models import QuerySet

from caseload.booking.offers import Offer
from caseload.booking.slots import LONGEST
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, State
from caseload.reads.openings import offers_for
from caseload.reads.prepared_models import PreparedModels
from caseload.timetable.terms import Way


@dataclass(frozen=True, slots=True)
class VisitToBook:
    """`about` is the follow-up that was chosen, `able` all that one visit can serve with it, `appointment` what is to
    be moved."""

    about: FollowUp
    able: tuple[FollowUp, ...]
    appointment: Appointment | None = None

    def ticked(self, listed: Collection[int]) -> list[FollowUp]:
        """What is served at first: what is moved stays together; else what is to be booked and fits into the hour."""
        if self.appointment:
            return list(self.able)
        chosen = [self.about]
        for row in self.able:
            minutes = row.minutes + sum(each.minutes for each in chosen)
            if row != self.about and row.pk in listed and minutes <= LONGEST and have_a_day([*chosen, row]):
                chosen.append(row)
        return chosen

    @property
    def in_person(self) -> bool:
        return any(row.in_person for row in self.able)


@dataclass(frozen=True, slots=True)
class Places:
    """The best offers; or why there are none."""

    offers: tuple[Offer, ...] = ()
    refusal: str = ""

    @property
    def in_time(self) -> bool:
        return any(not offer.days_late for offer in self.offers)


def visit_to_book(name: str, moving: str = "") -> VisitToBook | None:
    """The visit for the follow-up of this name (code of its episode and key); None if there is none. Two queries."""
    code, _, key = name.partition("/")
    about = next(iter(_NAMED(code, key)), None)
    if about is None:
        return None
    if moving:
        appointment = Appointment.objects.filter(code=moving, patient=about.patient_id).first()
        own = _own(about.patient_id, about.episode.site_id)
        moved = tuple(own.filter(purposes__appointment=appointment, purposes__live=True)) if appointment else ()
        return VisitToBook(about, moved, appointment) if appointment else None
    due = _DUE(about.patient_id, about.episode.site_id)
    others = (row for row in due if row != about and have_a_day([about, row]))
    return VisitToBook(about, (about, *others))


def _bookable() -> QuerySet[FollowUp]:
    rows = FollowUp.objects.filter(minutes__gt=0, episode__ended_on__isnull=True)
    return rows.select_related("episode__site__region", "patient").order_by("latest_on", "pk")


def _own(patient: int, site: int) -> QuerySet[FollowUp]:
    return _bookable().filter(patient=patient, episode__site=site)


def _due(patient: int, site: int) -> QuerySet[FollowUp]:
    return _own(patient, site).filter(state=State.DUE).exclude(purposes__live=True)


_NAMED: Final = PreparedModels(lambda code, key: _bookable().filter(episode__code=code, key=key))
_DUE: Final = PreparedModels(_due)


def have_a_day(rows: Sequence[FollowUp]) -> bool:
    """Whether the windows of all have a day in common."""
    return max(row.earliest_on for row in rows) <= min(row.latest_on for row in rows)


def places_for(rows: Sequence[FollowUp], *, at: datetime, way: Way, most: int) -> Places:
    """One query. What cannot be one visit, or not in this way, is said in the words of the refusal."""
    if not rows:
        return Places(refusal="Tick what the visit is for.")
    try:
        return Places(offers_for(rows, at=at, way=way, most=most))
    except Refusal as refusal:
        return Places(refusal=refusal.message)


def joined_or_alone(rows: list[FollowUp], find: Callable[[list[FollowUp]], Places]) -> tuple[list[FollowUp], Places]:
    """What one visit can serve, with its places; or the first of it, where only a shorter visit has one in time."""
    joined = find(rows)
    if len(rows) == 1 or joined.in_time:
        return rows, joined
    alone = find(rows[:1])
    return (rows[:1], alone) if alone.in_time else (rows, joined)
