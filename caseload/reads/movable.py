"""Whose appointment may be moved to make room for somebody whose session fell away: everybody to come whose appointment
is as it should be, with the exceptions named here. One query for the appointments, one for what they are for.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from django.db.models import Exists, F, OuterRef, Prefetch, QuerySet

from caseload.booking.needs import Need
from caseload.booking.offers import is_inside
from caseload.booking.slots import slots_for
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, State
from caseload.reads.openings import need_of
from caseload.timetable.terms import Way


def movable(sites: Iterable[int], first: date, last: date) -> QuerySet[Appointment]:
    """Live appointments of some days with what they are for; not those of a patient who has another one to come, not
    approved ones, and none whose interpreter knows. `need_to_move` says of each whether it may be moved.
    """
    purposes = Purpose.objects.select_related("follow_up__episode__site", "follow_up__patient")
    other = Appointment.objects.filter(patient=OuterRef("patient"), live=True, outcome="", on__gte=first)
    rows = Appointment.objects.filter(
        ~Exists(other.exclude(pk=OuterRef("pk"))), live=True, outcome="", site__in=set(sites), on__gte=first,
        on__lte=last, session__site=F("site"), approved_by="",
    ).exclude(interpreter_told=True)  # fmt: skip
    return rows.select_related("patient", "session").prefetch_related(Prefetch("purposes", purposes)).order_by("pk")


def served_by(appointment: Appointment) -> list[FollowUp]:
    return [purpose.follow_up for purpose in appointment.purposes.all()]


def need_to_move(appointment: Appointment, rows: Sequence[FollowUp], today: date) -> Need | None:
    """What its new place must be, tomorrow at the soonest; None where it may not be moved: today's, one that is over,
    approved early, not inside its days or not as long as it must be, or whose interpreter knows.
    """
    if not _stands(appointment, today) or not rows or any(row.state != State.DUE for row in rows):
        return None
    try:
        need = need_of(rows)
    except Refusal:
        return None
    tomorrow = today + timedelta(days=1)
    return need._replace(earliest=max(need.earliest, tomorrow)) if _is_good(appointment, need) else None


def _stands(appointment: Appointment, today: date) -> bool:
    open_ = appointment.live and not appointment.outcome and appointment.session_id is not None
    return open_ and appointment.on > today and not appointment.approved_by and not appointment.interpreter_told


def _is_good(appointment: Appointment, need: Need) -> bool:
    """At the right site, inside its days, in person if it must be, in as many slots as a new place would have."""
    as_long = len(slots_for(0, appointment.minutes)) == len(slots_for(0, need.minutes))
    by_way = not need.in_person or appointment.way == Way.IN_PERSON
    return appointment.site_id == need.site and is_inside(need, appointment.on) and as_long and by_way
