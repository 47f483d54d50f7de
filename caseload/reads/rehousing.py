"""Who still waits for another place after a session fell away, and which places are proposed.

Two queries for the people, one for what is free, however many there are.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from caseload.booking.clock import local_of
from caseload.booking.needs import Need
from caseload.booking.offers import Offer
from caseload.booking.openings import Opening
from caseload.booking.rehouse import Lost, Proposal, rehouse
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Session, State
from caseload.reads.openings import BEYOND, need_of, openings_between
from caseload.reads.prepared import Prepared
from caseload.reads.reach import Limits, Reader, limits_of, within_limits
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Outcome, Way


class Rehoused(NamedTuple):
    """One appointment with the place proposed for it; without one, `why_none` or `refusal` says why.

    `need` is None where its follow-ups have no common day any more.
    """

    appointment: Appointment
    rows: list[FollowUp]
    need: Need | None
    offer: Offer | None = None
    why_none: Reason | None = None
    refusal: str = ""

    @property
    def first_day(self) -> date:
        return max(row.earliest_on for row in self.rows)

    @property
    def last_day(self) -> date:
        return min(row.latest_on for row in self.rows)

    @property
    def breach(self) -> bool:
        return self.offer is not None and bool(self.offer.days_late or self.offer.days_early)


def still_waiting() -> QuerySet[Appointment]:
    """Appointments that fell away with their session, and whose follow-ups are due and never were booked since."""
    own = Purpose.objects.filter(appointment=OuterRef("pk"))
    since = Purpose.objects.filter(follow_up=OuterRef("follow_up")).filter(
        Q(live=True) | Q(appointment__gt=OuterRef("appointment"))
    )
    settled = own.filter(~Q(follow_up__state=State.DUE) | Exists(since))
    return Appointment.objects.filter(
        Exists(own), ~Exists(settled), session__live=False, outcome=Outcome.CANCELLED_BY_CLINIC
    )


def waiting_count(reader: Reader | None = None) -> int:
    limits = limits_of(reader)
    return len(_waiting(limits is not None)(*(limits or ())))


@cache
def _waiting(limited: bool) -> Prepared:
    """Their keys, found from the few sessions that were called off: no index holds the appointments that fell away."""

    def rows(*limits: Any) -> QuerySet[Appointment, Any]:
        lost = Session.objects.filter(live=False).order_by().values("pk")
        found = still_waiting().filter(session__in=lost)
        found = within_limits(found, Limits(*limits)) if limited else found
        return found.order_by().values_list("pk")

    return Prepared(rows)


def waiting(session: Session | None = None) -> list[Appointment]:
    """Those who wait, of one session or of all, with what they are for."""
    rows = still_waiting()
    return _whole(rows.filter(session=session) if session else rows)


def to_come(session: Session) -> list[Appointment]:
    """Those whom it concerns if the session is called off."""
    return _whole(session.appointments.filter(live=True, outcome=""))


def _whole(rows: QuerySet[Appointment]) -> list[Appointment]:
    purposes = Purpose.objects.select_related("follow_up__episode__site", "follow_up__patient")
    return list(rows.select_related("patient", "session").prefetch_related(Prefetch("purposes", purposes)))


class Search(NamedTuple):
    """Who needs another place, at which instant, and what is free from then to `last`."""

    rows: list[Rehoused]
    at: datetime
    last: date
    openings: tuple[Opening, ...]

    def of_site(self, site: int) -> list[Rehoused]:
        """Those of one site whose follow-ups have a day in common."""
        return [row for row in self.rows if row.need and row.need.site == site]

    @property
    def sites(self) -> list[int]:
        return list(dict.fromkeys(row.need.site for row in self.rows if row.need))

    def now(self, site: int) -> tuple[date, int]:
        """The local day and minute of a site where somebody needs a place."""
        return local_of(self.at, self.of_site(site)[0].rows[0].episode.site.zone)


def rehousing(appointments: Sequence[Appointment], *, at: datetime, without: Session | None = None) -> list[Rehoused]:
    """Each with its proposal, in order of latest day; no two share a slot. `without` leaves out what it still has."""
    return rehoused(search(appointments, at=at, without=without))


def search(appointments: Sequence[Appointment], *, at: datetime, without: Session | None = None) -> Search:
    rows = [_needing(each) for each in appointments]
    able = [row for row in rows if row.need]
    today = min((local_of(at, row.rows[0].episode.site.zone)[0] for row in able), default=at.date())
    last = max([today, *(row.need.latest for row in able if row.need)]) + BEYOND
    openings = openings_between({row.need.site for row in able if row.need}, today, last) if able else ()
    return Search(rows, at, last, tuple(each for each in openings if without is None or each.session != without.pk))


def rehoused(asked: Search) -> list[Rehoused]:
    """Nobody else is moved."""
    found: list[Proposal] = []
    for site in asked.sites:
        today, minute = asked.now(site)
        found += rehouse(lost_of(asked.of_site(site)), asked.openings, today=today, minute=minute)
    return with_proposals(asked.rows, found)


def lost_of(rows: Iterable[Rehoused]) -> list[Lost]:
    return [Lost(row.appointment.pk, row.need, Way(row.appointment.way)) for row in rows if row.need]


def with_proposals(rows: Iterable[Rehoused], proposals: Iterable[Proposal]) -> list[Rehoused]:
    """The same rows with what was found for them, in order of latest day."""
    by_key = {each.appointment: each for each in proposals}
    found = [_with(row, by_key.get(row.appointment.pk)) for row in rows]
    return sorted(found, key=lambda row: (row.last_day, row.appointment.on, row.appointment.pk))


def _with(row: Rehoused, found: Proposal | None) -> Rehoused:
    return row._replace(offer=found.offer, why_none=found.why_none) if found else row


def _needing(appointment: Appointment) -> Rehoused:
    rows = [purpose.follow_up for purpose in appointment.purposes.all()]
    try:
        return Rehoused(appointment, rows, need_of(rows))
    except Refusal as refusal:
        return Rehoused(appointment, rows, None, refusal=refusal.message)
