"""Who is rehoused, who may make room, and what is proposed."""

from datetime import date
from typing import NamedTuple

from caseload.booking.needs import Need
from caseload.booking.offers import Offer
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way


class Lost(NamedTuple):
    """An appointment whose session fell away."""

    appointment: int
    need: Need
    way: Way


class Kept(NamedTuple):
    """Somebody else's appointment that may move: where it is now. It keeps its window and its length."""

    appointment: int
    need: Need
    way: Way
    session: int
    start: int


class Proposal(NamedTuple):
    """Where it could go, or why nowhere. An offer with `days_late` above 0 breaches the window."""

    appointment: int
    offer: Offer | None
    why_none: Reason | None


class Rehousing(NamedTuple):
    """A proposal for each lost appointment, in order of latest day; `moves` are those of the others who would move, in
    order of the day they have now. Not `proven` where the time did not suffice to show that there is no better."""

    proposals: tuple[Proposal, ...]
    moves: tuple[Proposal, ...]
    proven: bool


def urgency(each: Lost | Kept) -> tuple[date, date, int]:
    return each.need.latest, each.need.earliest, each.appointment
