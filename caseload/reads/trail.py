"""The trail as a lead reads it: acts and looks in one order, the latest first, a page at a time.

A page begins where the one before ended, by instant, table and key, so that a page deep in a million rows costs what
the first does. At one instant acts come before looks.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from heapq import merge
from typing import Any, Final, NamedTuple

from django.db.models import Q, QuerySet
from django.utils import timezone

from caseload.access.audit import kind_of, kind_of_look
from caseload.access.audit_event import Row
from caseload.models import Job, Look, Patient, Seal, Staff, TrailEntry
from caseload.reads.history import tell
from caseload.wording.record import say_act, say_reason
from caseload.wording.trail import is_taken_away, say_look

SIZE: Final = 50
ENTRIES, LOOKS, REASONS = "entries", "looks", "reasons"
PLANNER: Final = "planner"
STAFF: Final = Staff._meta.model_name
ORDER: Final = {ENTRIES: 1, LOOKS: 0}
AT_ONCE: Final = 1000


class Place(NamedTuple):
    """Where a page ended."""

    at: datetime
    table: str
    key: int

    def __str__(self) -> str:
        return f"{self.at.astimezone(UTC).replace(tzinfo=None).isoformat()}_{self.table}_{self.key}"


@dataclass(frozen=True, slots=True)
class Asked:
    """`by` is a person's key, 0 the planner itself; `table` is acts or looks alone; `reasons` only what has one."""

    by: int | None = None
    patient: Patient | None = None
    act: str = ""
    since: datetime | None = None
    until: datetime | None = None
    table: str = ""
    reasons: bool = False


class Sealed(NamedTuple):
    """How far the trail is sealed, and what the latest check of its seals found."""

    last: Seal | None
    proof: Job | None


def sealed() -> Sealed:
    last = Seal.objects.defer("marks", "spans").order_by("number").last()
    return Sealed(last, Job.objects.filter(kind="trail-proof", ended_at__isnull=False).order_by("id").last())


class Line(NamedTuple):
    """One row as the page shows it. `moved` is what it changed, in sentences; `whom` names somebody else on the staff
    whom the act is about."""

    at: datetime
    by: Staff | None
    what: str
    patient: Patient | None
    origin: str
    why: str
    moved: tuple[str, ...]
    whom: str = ""


def page(asked: Asked, before: Place | None) -> tuple[list[Line], Place | None]:
    """The rows of a page, and where it ended if there are more."""
    found: list[Any] = []
    for table in _tables(asked):
        found += rows_of(table, asked, before)[: SIZE + 1]
    found.sort(key=_newest, reverse=True)
    shown = found[:SIZE]
    ended = Place(shown[-1].at, table_of(shown[-1]), shown[-1].pk) if len(found) > SIZE else None
    return _lines(shown), ended


def count(asked: Asked, most: int) -> int:
    """How many rows there are, counted no further than `most`."""
    return min(sum(rows_of(table, asked, None).order_by()[:most].count() for table in _tables(asked)), most)


def all_rows(asked: Asked) -> Iterator[Row]:
    """Every row in the terms of an audit event, the latest first, a few at a time in memory."""
    both = (rows_of(table, asked, None).iterator(chunk_size=AT_ONCE) for table in _tables(asked))
    yield from map(audited, merge(*both, key=_newest, reverse=True))


def read_place(text: str) -> Place | None:
    """Where a page ended as an address carries it; None where it cannot be read."""
    at, table, key = (*text.split("_"), "", "", "")[:3]
    try:
        instant = datetime.fromisoformat(at).replace(tzinfo=UTC)
    except ValueError:
        return None
    if table not in ORDER or not (key.isascii() and key.isdigit() and len(key) < 19):
        return None
    return Place(instant, table, int(key))


def asked_of(query: Mapping[str, str], *, by_then: datetime | None = None) -> Asked:
    """What an address asks for, as it was at an instant; what it names and is not there is left out."""
    who = query.get("who", "")
    by = 0 if who == PLANNER else Staff.objects.filter(code=who).values_list("pk", flat=True).first() if who else None
    first, last = (_day(query.get(name, "")) for name in ("first", "last"))
    end = _midnight(last + timedelta(days=1)) if last else None
    what = query.get("what", "")
    return Asked(
        by=by,
        patient=Patient.objects.filter(code=query.get("patient", "")).first() if query.get("patient") else None,
        act=query.get("act", ""),
        since=_midnight(first) if first else None,
        until=min(filter(None, (end, by_then and by_then + timedelta(microseconds=1))), default=None),
        table=what if what in ORDER else "",
        reasons=what == REASONS,
    )


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _midnight(on: date) -> datetime:
    return timezone.make_aware(datetime.combine(on, time()))


def rows_of(table: str, asked: Asked, before: Place | None) -> QuerySet[Any]:
    model: Any = TrailEntry if table == ENTRIES else Look
    found = model.objects.select_related("by", "patient").filter(_wanted(asked)).order_by("-at", "-id")
    if asked.act and table == ENTRIES:
        found = found.filter(act=asked.act)
    return found.filter(_beyond(table, before)) if before else found


def table_of(row: Any) -> str:
    return ENTRIES if isinstance(row, TrailEntry) else LOOKS


def audited(row: TrailEntry | Look) -> Row:
    """A row in the terms of an audit event."""
    told: dict[str, Any] = {
        "key": f"{table_of(row)}-{row.pk}", "at": row.at, "origin": row.origin, "why": row.why,
        "agent": row.by.code if row.by else "", "name": row.by.name if row.by else "",
        "patient": row.patient.code if row.patient else "",
    }  # fmt: skip
    if isinstance(row, Look):
        kind = kind_of_look(row.route, of_patient=row.patient is not None, taken_away=is_taken_away(row.route))
        rows = 0 if row.patient else row.rows
        return Row(**told, kind=kind, said=say_look(row.route, rows), subject=row.route, rows=rows)
    subject = f"{row.subject}/{row.subject_id}" if row.subject_id else row.subject
    return Row(**told, kind=kind_of(row.act), said=say_act(row.act), subject=subject, changed=row.changed)


def _tables(asked: Asked) -> list[str]:
    if asked.act:
        return [ENTRIES] if asked.table != LOOKS else []
    return [asked.table] if asked.table else [ENTRIES, LOOKS]


def _newest(row: Any) -> tuple[datetime, int, int]:
    return row.at, ORDER[table_of(row)], row.pk


def _wanted(asked: Asked) -> Q:
    wanted = Q()
    if asked.by is not None:
        wanted &= Q(by=asked.by) if asked.by else Q(by__isnull=True)
    if asked.patient:
        wanted &= Q(patient=asked.patient)
    if asked.since:
        wanted &= Q(at__gte=asked.since)
    if asked.until:
        wanted &= Q(at__lt=asked.until)
    return wanted & ~Q(why="") if asked.reasons else wanted


def _beyond(table: str, before: Place) -> Q:
    """What comes after that place. The first condition alone is what an index answers."""
    if ORDER[table] < ORDER[before.table]:
        return Q(at__lte=before.at)
    if ORDER[table] > ORDER[before.table]:
        return Q(at__lt=before.at)
    return Q(at__lte=before.at) & (Q(at__lt=before.at) | Q(pk__lt=before.key))


def _lines(rows: list[Any]) -> list[Line]:
    entries = [row for row in rows if isinstance(row, TrailEntry)]
    told, people = iter(tell(entries)), _colleagues(entries)
    return [
        _act(row, next(told).moved, people.get(_colleague(row), "")) if isinstance(row, TrailEntry) else _look(row)
        for row in rows
    ]


def _colleagues(rows: list[TrailEntry]) -> dict[int, str]:
    """The names of those on the staff whom somebody else's acts are about, by key; no query where there are none."""
    about = {_colleague(row) for row in rows} - {0}
    return dict(Staff.objects.filter(pk__in=about).values_list("pk", "name")) if about else {}


def _colleague(row: TrailEntry) -> int:
    """The key of somebody else on the staff whom an act is about; 0 for none."""
    return (row.subject_id or 0) if row.subject == STAFF and row.subject_id != row.by_id else 0


def _act(row: TrailEntry, moved: tuple[str, ...], whom: str) -> Line:
    """The reason has a line of its own here."""
    moved = tuple(said for said in moved if said != say_reason(row.why))
    return Line(row.at, row.by, say_act(row.act), row.patient, row.origin, row.why, moved, whom)


def _look(row: Look) -> Line:
    what = say_look(row.route, 0 if row.patient else row.rows)
    return Line(row.at, row.by, what, row.patient, row.origin, row.why, ())
