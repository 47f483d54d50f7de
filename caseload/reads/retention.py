"""Whose record has outlived its time, and why all others are kept: read in the same few queries, however many."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from datetime import date, datetime
from typing import Any, Final, NamedTuple

from django.conf import settings
from django.db.models import Exists, Max, Model, OuterRef, Q, QuerySet
from django.utils import timezone

from caseload.access import Act
from caseload.access.retention import Record, Time, Why, time_of
from caseload.models import (
    Appointment,
    Contact,
    Episode,
    Finding,
    IntakeRow,
    Notice,
    Patient,
    Referral,
    TrailEntry,
    Visit,
)

DATED: Final[tuple[tuple[type[Model], str, tuple[str, ...]], ...]] = (
    (Referral, "patient", ("received_on", "ended_on")),
    (Episode, "patient", ("recorded_on", "surgery_on", "ended_on")),
    (Visit, "patient", ("on",)),
    (Appointment, "patient", ("on",)),
    (Finding, "episode__patient", ("on",)),
    (Contact, "patient", ("at",)),
    (Notice, "patient", ("sent_at",)),
)
"""Days on which there was something to do with a person, and how a row leads to them."""


class Over(NamedTuple):
    """A record whose time is over."""

    code: str
    last_on: date | None
    why: Why
    until: date


class Survey(NamedTuple):
    """Records whose time is over, the one longest over first; and how many are kept, by why."""

    over: list[Over]
    kept: Counter[Why]


def survey(today: date) -> Survey:
    over, kept = [], Counter[Why]()
    for code, record, time in times():
        if time.over(today) and time.until:
            over.append(Over(code, record.last_on, time.why, time.until))
        else:
            kept[time.why] += 1
    return Survey(sorted(over, key=lambda row: (row.until, row.code)), kept)


def times(only: Collection[int] | None = None) -> Iterator[tuple[str, Record, Time]]:
    """Code, what decides and how long it is kept, of each person; those merged into another one count with that one."""
    people = list(_within(Patient.objects.order_by("pk"), only, "pk"))
    root = {row.pk: row.merged_into_id or row.pk for row in people}
    last, unfinished = _last(root, only), {root[key] for key in _open(only) if key in root}
    for row in people:
        if row.merged_into_id is None:
            record = Record(last.get(row.pk), row.born_on, row.pk in unfinished, bool(row.keep_why), row.keep_until_on)
            yield row.code, record, time_of(record, settings.KEEP_YEARS)


def _last(root: dict[int, int], only: Collection[int] | None) -> dict[int, date]:
    found: dict[int, date] = {}
    for key, day in _days(only):
        if key in root and day > found.get(root[key], date.min):
            found[root[key]] = day
    return found


def _days(only: Collection[int] | None) -> Iterator[tuple[int, date]]:
    """The latest day of each kind of each patient; that they were added counts too."""
    for model, path, names in DATED:
        latest = {f"last_{name}": Max(name) for name in names}
        yield from _each(_within(model._base_manager.order_by(), only, path).values_list(path).annotate(**latest))
    added = TrailEntry.objects.order_by().filter(act=Act.PATIENT_ADD, patient__isnull=False)
    yield from _each(_within(added, only, "patient").values_list("patient").annotate(Max("at")))


def _each(rows: Iterable[tuple[Any, ...]]) -> Iterator[tuple[int, date]]:
    for key, *latest in rows:
        for value in latest:
            if value is not None:
                yield key, timezone.localdate(value) if isinstance(value, datetime) else value


def _open(only: Collection[int] | None) -> Iterator[int]:
    """Patients with an open episode, a referral that led to none yet, or a row in a list that is not taken in."""
    yield from _within(Episode.objects.open().order_by(), only, "patient").values_list("patient", flat=True)
    led = Exists(Episode.objects.filter(Q(referral=OuterRef("pk"))))
    waiting = Referral.objects.order_by().filter(~led, ended_on__isnull=True)
    yield from _within(waiting, only, "patient").values_list("patient", flat=True)
    listed = IntakeRow.objects.order_by().filter(batch__confirmed_at__isnull=True).exclude(match={})
    codes = set(listed.values_list("match__patient", flat=True)) - {"", None}
    yield from _within(Patient.objects.filter(code__in=codes), only, "pk").values_list("pk", flat=True)


def _within(rows: QuerySet[Any], only: Collection[int] | None, path: str) -> QuerySet[Any]:
    return rows if only is None else rows.filter(**{f"{path}__in": only})
