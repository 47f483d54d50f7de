"""A saved visit as its page shows it: what was recorded of each digit, what it changed, what is left to do."""

from collections.abc import Iterable
from datetime import date, datetime
from functools import partial
from typing import NamedTuple

from django.db.models import Q

from caseload.measures.bodies import read
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Examined, Finding, FollowUp, Measurement, Staff, Visit
from caseload.reads.consequences import Misfit, standing_of
from caseload.reads.to_book import AHEAD
from caseload.reads.visit_lines import say_after
from caseload.reads.visit_to_book import joined_or_alone, places_for, visit_to_book
from caseload.timetable.terms import ActivityKind, Digit, Outcome, Way
from caseload.wording import label
from caseload.wording.measures import say_measured
from caseload.wording.record import say_found

OFFERS = 3


class Measured(NamedTuple):
    """One measure in words; `later` is the row that corrected or withdrew it."""

    row: Measurement
    said: str
    later: Measurement | None


class Found(NamedTuple):
    row: Finding
    said: str
    later: Finding | None


class Looked(NamedTuple):
    """What was recorded of one digit."""

    examined: Examined
    found: list[Found]
    measured: list[Measured]
    begun: list[str]
    after: str


class ToBook(NamedTuple):
    """One visit that needs a place: what it is for, and the best places for it."""

    rows: list[FollowUp]
    offers: tuple


class Left(NamedTuple):
    """What is left to do about the patient once the visit is saved."""

    to_book: list[ToBook]
    misfits: list[Misfit]
    needless: list[Appointment]

    @property
    def anything(self) -> bool:
        return any(self)


def looked_at(visit: Visit) -> list[Looked]:
    """By digit, in five queries."""
    found, measured = _findings(visit), _measurements(visit)
    return [
        Looked(
            row,
            [Found(each, _say(each), _later(each)) for each in found if each.episode_id == row.episode_id],
            [_told(each) for each in measured if each.episode_id == row.episode_id],
            [label(ActivityKind(kind)) for kind in row.started],
            say_after(row),
        )
        for row in visit.examined.select_related("episode__site", "episode__patient", "review")
    ]


def left_to_do(visit: Visit, looks: Iterable[Looked], *, at: datetime, today: date) -> Left:
    """As things stand now: whatever of it was done meanwhile is not named any more."""
    episodes = [look.examined.episode for look in looks]
    standing = standing_of(visit.patient, episodes, today=today)
    due = [row for row in standing.to_book.values() if row.earliest_on <= today + AHEAD]
    return Left(_visits(due, at), list(standing.misfits.values()), list(standing.needless.values()))


def next_of(staff: Staff, today: date, after: Appointment | None) -> Appointment | None:
    """Who is next in the sessions of this person on a day and has no recorded visit: after this one, else the first."""
    rows = Appointment.objects.filter(
        Q(outcome="", live=True) | Q(outcome=Outcome.ATTENDED), session__therapist=staff, on=today, visit=None
    )
    waiting = list(rows.select_related("patient", "session").order_by("start_minute", "pk"))
    start = (after.start_minute or 0) if after and after.on == today else 0
    return next((row for row in waiting if (row.start_minute or 0) > start), waiting[0] if waiting else None)


def _visits(due: list[FollowUp], at: datetime) -> list[ToBook]:
    """The due follow-ups as few visits as they make, each with its best places."""
    made: list[ToBook] = []
    left = {row.pk: row for row in sorted(due, key=lambda row: (row.latest_on, row.pk))}
    while left:
        first = next(iter(left.values()))
        wanted = visit_to_book(f"{first.episode.code}/{first.key}")
        rows = wanted.ticked(left.keys()) if wanted else [first]
        rows, places = joined_or_alone(rows, partial(places_for, at=at, way=Way.IN_PERSON, most=OFFERS))
        made.append(ToBook(rows, places.offers))
        left = {pk: row for pk, row in left.items() if row not in rows}
    return made


def _findings(visit: Visit) -> list[Finding]:
    return list(visit.findings.filter(withdraws=False).select_related("corrected_by__by").order_by("pk"))


def _measurements(visit: Visit) -> list[Measurement]:
    """Each as it was recorded; what corrects one belongs to the visit as well."""
    rows = Measurement.objects.filter(visit=visit, withdraws=False).select_related("episode", "corrected_by__by")
    return list(rows.order_by("pk"))


def _told(row: Measurement) -> Measured:
    kind = MeasureKind(row.kind)
    digit = Digit(row.episode.digit) if row.episode.digit else None
    return Measured(row, say_measured(read(kind, row.body), digit), getattr(row, "corrected_by", None))


def _say(row: Finding) -> str:
    return ": ".join(filter(None, [say_found(row), row.note]))


def _later(row: Finding) -> Finding | None:
    return getattr(row, "corrected_by", None)
