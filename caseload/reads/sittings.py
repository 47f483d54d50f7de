"""The sessions that a therapist holds on a day, with the visits in them and what is still free: one query."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, Final, NamedTuple

from django.db.models import FilteredRelation, Q, QuerySet

from caseload.booking.clock import local_of
from caseload.booking.slots import SLOT, slots_for
from caseload.booking.weeks import minutes_of
from caseload.models import Session, Staff
from caseload.reads.prepared import Prepared
from caseload.timetable.terms import Outcome

SHOWN: Final = ("", Outcome.ATTENDED, Outcome.DID_NOT_ATTEND)
"""A cancelled visit is no longer of the day; one who did not attend is."""


class Visit(NamedTuple):
    """An appointment. `start` is None for one without a session; `recorded` is the code of what was recorded of it."""

    code: str
    version: int
    start: int | None
    minutes: int
    way: str
    outcome: str
    arrived_at: datetime | None
    told: str
    interpreter_told: bool | None
    recorded: str | None


def visit_fields(path: str) -> tuple[str, ...]:
    """The fields of a visit, as reached from another table."""
    own = ("code", "version", "start_minute", "minutes", "way", "outcome", "arrived_at", "told", "interpreter_told")
    return (*(f"{path}__{name}" for name in own), f"{path}__visit__code")


class Held(NamedTuple):
    """A visit in a session, its patient, and the keys of what it is for by episode."""

    visit: Visit
    patient_id: int
    served: dict[int, list[str]]


class Sitting(NamedTuple):
    """A session, its visits in order of time, and the first minutes of the slots that can still be booked."""

    id: int
    site: str
    start: int
    end: int
    visits: tuple[Held, ...]
    free: tuple[int, ...]

    @property
    def seen(self) -> list[Held]:
        return [held for held in self.visits if held.visit.outcome]


_SESSION: Final = ("id", "site__name", "site__zone", "start_minute", "end_minute")


def sittings_of(therapist: Staff, on: date, at: datetime) -> list[Sitting]:
    """Every session of theirs that takes place on a day, in order of time."""
    by_session: dict[tuple[Any, ...], list[tuple[Any, ...]]] = defaultdict(list)
    for row in _BOOKED(therapist.pk, on):
        by_session[row[:5]].append(row[5:])
    return [_sitting(session, rows, on, at) for session, rows in by_session.items()]


def _booked(therapist: int, on: date) -> QuerySet[Session, Any]:
    rows = Session.objects.filter(therapist=therapist, on=on, live=True).annotate(
        booked=FilteredRelation("appointments", condition=Q(appointments__outcome__in=SHOWN)),
        back=FilteredRelation("slots", condition=~Q(slots__held_why="")),
    )
    return rows.order_by("start_minute", "id").values_list(
        *_SESSION, "back__minute", "booked__patient", "booked__purposes__follow_up__episode",
        "booked__purposes__follow_up__key", *visit_fields("booked"),
    )  # fmt: skip


_BOOKED: Final = Prepared(_booked)


def _sitting(session: tuple[Any, ...], rows: list[tuple[Any, ...]], on: date, at: datetime) -> Sitting:
    id, site, zone, start, end = session
    visits = _visits(rows)
    taken = {row[0] for row in rows}
    for held in visits:
        if held.visit.outcome != Outcome.DID_NOT_ATTEND:
            taken.update(slots_for(held.visit.start or 0, held.visit.minutes))
    begins = _to_come(on, at, zone)
    free = tuple(slot for slot in minutes_of(start, end, on, zone) if slot not in taken and slot >= begins)
    return Sitting(id, site, start, end, visits, free)


def _visits(rows: Iterable[tuple[Any, ...]]) -> tuple[Held, ...]:
    found: dict[str, Held] = {}
    for _, patient, episode, key, *said in rows:
        visit = Visit(*said)
        if visit.code:
            keys = found.setdefault(visit.code, Held(visit, patient, {})).served.setdefault(episode, [])
            if key not in keys:
                keys.append(key)
    return tuple(sorted(found.values(), key=lambda held: (held.visit.start or 0, held.visit.code)))


def _to_come(on: date, at: datetime, zone: str) -> int:
    """From which minute a slot of the day is not over yet."""
    today, minute = local_of(at, zone)
    return minute - SLOT + 1 if on == today else 0
