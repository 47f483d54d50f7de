"""Short words for follow-ups to book and sessions to book them in. A session is three slots from nine unless said."""

from datetime import date, timedelta
from typing import Any

from caseload.booking.needs import Asked, Need, one_visit
from caseload.booking.offers import Offer, offers
from caseload.booking.openings import Opening
from caseload.booking.rehouse import Lost
from caseload.booking.slots import slots_in
from caseload.booking.weeks import Pattern
from caseload.timetable.terms import FollowUpKind, Way

TARGET = date(2026, 2, 17)
"""A Tuesday with no public holiday near: day 14 of surgery on Tue 3 Feb 2026."""
NINE = 9 * 60
EVERY_WAY = frozenset(Way)
OWN, OTHER = 1, 2
SITE, ELSEWHERE = 1, 2


def off(days: int) -> date:
    """So many days from the target."""
    return TARGET + timedelta(days=days)


def asked(earliest: int = -2, target: int = 0, latest: int = 2, **said: Any) -> Asked:
    """Stitches out inside 12 / 14 / 16, the days given from `TARGET`."""
    days = {"earliest": off(earliest), "target": off(target), "latest": off(latest)}
    known = {"name": "s", "kind": FollowUpKind.STITCHES_OUT, "minutes": 20, "in_person": True, "provisional": False}
    return Asked(**(known | days | said))


def need(*several: Asked, therapist: int | None = OWN, interpreter: bool = False, **said: Any) -> Need:
    return one_visit(several or [asked(**said)], site=SITE, therapist=therapist, interpreter=interpreter)


def opening(on: int = 0, session: int = 1, free: tuple[int, ...] | None = None, **said: Any) -> Opening:
    """A session so many days from the target; all of its slots are free unless said."""
    start, end = said.get("start", NINE), said.get("end", NINE + 60)
    known: dict[str, Any] = {"code": f"c{session}", "on": off(on), "site": SITE, "therapist": OWN, "takes": frozenset()}
    known |= {"ways": EVERY_WAY, "start": start, "end": end, "free": slots_in(start, end) if free is None else free}
    return Opening(session=session, **(known | said))


def best(of: Need, *openings: Opening, **said: Any) -> tuple[Offer, ...]:
    """Offers as asked for four weeks before the target."""
    known = {"way": Way.IN_PERSON, "today": off(-28), "minute": 0}
    return offers(of, openings, **(known | said))


def lost(appointment: int, way: Way = Way.IN_PERSON, **said: Any) -> Lost:
    return Lost(appointment, need(**said), way)


def pattern(key: int = 1, **said: Any) -> Pattern:
    """A session on Tuesdays, nine to twelve."""
    known = {"therapist": OWN, "site": SITE, "weekday": 1, "start": NINE, "end": NINE + 180, "takes": frozenset()}
    known |= {"ways": EVERY_WAY, "starts_on": date(2026, 1, 1), "ends_on": None}
    return Pattern(key=key, **(known | said))
