"""Who still waits for another place after a session fell away, and which places are proposed.

Two queries for the people, one for what is free, however many there are.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from caseload.booking.clock import local_of
from caseload.booking.needs import Need
from caseload.booking.offers import Offer
from caseload.booking.openings import Opening
from caseload.booking.rehouse import Lost, rehouse
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Session, State
from caseload.reads.openings import BEYOND, need_of, openings_between
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


def waiting_count() -> int:
    return still_waiting().count()


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


def rehousing(appointments: Sequence[Appointment], *, at: datetime, without: Session | None = None) -> list[Rehoused]:
    """Each with its proposal, in order of latest day; no two share a slot. `without` leaves out what it still has."""
    rows = [_needing(each) for each in appointments]
    able = [row for row in rows if row.need]
    openings = [each for each in _openings(able, at) if without is None or each.session != without.pk]
    placed: dict[int, Rehoused] = {}
    for site_rows in _by_site(able).values():
        placed |= _placed(site_rows, openings, at)
    found = [placed.get(row.appointment.pk, row) for row in rows]
    return sorted(found, key=lambda row: (row.last_day, row.appointment.on, row.appointment.pk))


def _needing(appointment: Appointment) -> Rehoused:
    rows = [purpose.follow_up for purpose in appointment.purposes.all()]
    try:
        return Rehoused(appointment, rows, need_of(rows))
    except Refusal as refusal:
        return Rehoused(appointment, rows, None, refusal=refusal.message)


def _openings(rows: Iterable[Rehoused], at: datetime) -> tuple[Opening, ...]:
    needs = [row.need for row in rows if row.need]
    if not needs:
        return ()
    first = min(local_of(at, row.rows[0].episode.site.zone)[0] for row in rows)
    last = max(first, *(need.latest for need in needs)) + BEYOND
    return openings_between({need.site for need in needs}, first, last)


def _by_site(rows: Iterable[Rehoused]) -> dict[int, list[Rehoused]]:
    found: dict[int, list[Rehoused]] = defaultdict(list)
    for row in rows:
        found[row.rows[0].episode.site_id].append(row)
    return found


def _placed(rows: Sequence[Rehoused], openings: Iterable[Opening], at: datetime) -> dict[int, Rehoused]:
    """The rows of one site with their proposals, by appointment."""
    today, minute = local_of(at, rows[0].rows[0].episode.site.zone)
    by_id = {row.appointment.pk: row for row in rows}
    lost = [Lost(pk, row.need, Way(row.appointment.way)) for pk, row in by_id.items() if row.need]
    return {
        each.appointment: by_id[each.appointment]._replace(offer=each.offer, why_none=each.why_none)
        for each in rehouse(lost, openings, today=today, minute=minute)
    }
