"""The booking list: follow-ups that need a visit and have no good appointment, fewest usable days first.

Two queries say how urgent each of the whole list is, which may be tens of thousands; one the names of those who are
looked at (`to_book_order.py`). One more reads the rows of a page, one who has which row open.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any, Final, NamedTuple

from django.db.models import (
    BooleanField,
    Case,
    DateField,
    Exists,
    ExpressionWrapper,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.expressions import CombinedExpression
from django.db.models.functions import Coalesce, Greatest, Least
from django.db.models.lookups import Exact

from caseload.booking.slots import INTERPRETER, LONGEST, SLOT
from caseload.models import Episode, FollowUp, Purpose, Session, State, WorkedOn
from caseload.reads.prepared import Prepared
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Limits, Reader, limits_of, open_within
from caseload.reads.to_book_order import Order, Ranked, Step
from caseload.timetable.terms import FollowUpKind, Way

AHEAD: Final = timedelta(days=28)
"""A window that opens later than this is not booked yet."""
REVIEWS: Final = frozenset({FollowUpKind.THERAPY_REVIEW, FollowUpKind.SET_REVIEW, FollowUpKind.OUTCOME_REVIEW})
"""What can wait longer than stitches and wounds that are as urgent by their days."""
BATCH: Final = 400
OPEN_FOR: Final = timedelta(minutes=3)
"""So long a row counts as worked on after it was opened, or after the page last said that it is."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Which part of the list is asked for; empty for all."""

    kind: str = ""
    site: int | None = None
    therapist: int | None = None
    unassigned: bool = False


class Window(NamedTuple):
    """What usable days hang on: thousands of follow-ups share a few hundred."""

    site_id: int
    kind: str
    earliest_on: date
    latest_on: date
    provisional: bool


class Row(NamedTuple):
    """A follow-up to be booked. `usable` are the days left on which a session of its site takes it."""

    id: int
    key: str
    kind: str
    earliest_on: date
    target_on: date
    latest_on: date
    provisional: bool
    minutes: int
    in_person: bool
    code: str
    side: str
    digit: str
    surgery_on: date | None
    site_id: int
    therapist_id: int | None
    patient_id: int
    family: str
    given: str
    search_key: str
    born_on: date | None
    phone: str
    interpreter: bool
    booked_on: date | None = None
    usable: int = 0

    @property
    def name(self) -> str:
        """What names the row in addresses."""
        return f"{self.code}/{self.key}"

    def days_late(self, today: date) -> int:
        """What is provisional is never late."""
        return 0 if self.provisional else max(0, (today - self.latest_on).days)


_STORED = (
    "id", "key", "kind", "earliest_on", "target_on", "latest_on", "provisional", "minutes", "in_person",
    "episode__code", "episode__side", "episode__digit", "episode__surgery_on", "episode__site_id",
    "episode__therapist_id", "patient_id", "patient__family", "patient__given", "patient__search_key",
    "patient__born_on", "patient__phone", "patient__interpreter",
    "booked_on",
)  # fmt: skip


def unbooked(asked: Asked, today: date, reader: Reader | None = None) -> QuerySet[FollowUp]:
    """Due, in need of a visit, open within `AHEAD`, of an episode on the caseload, without a good appointment.

    A day that has passed is not this list's any more: its outcome is to be recorded.
    """
    return _unbooked(asked, today, today + AHEAD, limits_of(reader))


def _unbooked(asked: Asked, today: date, until: date, limits: Limits | None) -> QuerySet[FollowUp]:
    due = FollowUp.objects.due().filter(
        minutes__gt=0, earliest_on__lte=until, episode__in=Episode.objects.on_caseload(today)
    )
    rows = open_within(limits, due, "episode__")
    own = {"kind": asked.kind, "episode__site": asked.site, "episode__therapist": asked.therapist}
    rows = rows.filter(**{field: value for field, value in own.items() if value})
    if asked.unassigned:
        rows = rows.filter(episode__therapist__isnull=True)
    return rows.filter(~Exists(_good(today)))


def _good(today: date) -> QuerySet[Purpose]:
    """The live booking of a follow-up, if nothing is amiss with it; `booking.good` says the same of one."""
    inside = Q(appointment__on__lte=OuterRef("latest_on")) & (
        Q(appointment__on__gte=OuterRef("earliest_on")) | ~Q(appointment__approved_by="")
    )
    seen = Q(appointment__way=Way.IN_PERSON) | Q(Exact(OuterRef("in_person"), False))
    good = seen & (inside | Q(Exact(OuterRef("provisional"), True)))
    good &= Q(appointment__site=OuterRef("episode__site"), appointment__minutes__gte=F("needed"))
    live = Purpose.objects.filter(follow_up=OuterRef("pk"), live=True).alias(needed=_minutes_needed())
    return live.filter(good | Q(appointment__on__lt=today))


def _minutes_needed() -> CombinedExpression:
    """How long an appointment has to be for everything due that it serves."""
    served = Purpose.objects.filter(appointment=OuterRef("appointment"), live=True, follow_up__state=State.DUE)
    total = served.order_by().values("appointment").annotate(total=Sum("follow_up__minutes")).values("total")
    more = Case(When(appointment__patient__interpreter=True, then=Value(INTERPRETER)), default=Value(0))
    bound = Least(Greatest(Subquery(total, output_field=IntegerField()), Value(SLOT)), Value(LONGEST))
    return CombinedExpression(bound, "+", more)


def _day(name: str) -> Coalesce:
    """A day as an expression: of a bare column SQLite would have each row's converted, of this each day once."""
    return Coalesce(name, Value(None), output_field=DateField())


_RANKED = (
    "episode__site_id", "kind", _day("earliest_on"), _day("latest_on"), "provisional",
    ExpressionWrapper(Q(booked_on__isnull=False), output_field=BooleanField()), "id",
)  # fmt: skip


@cache
def _found(asked: Asked, limited: bool) -> Prepared:
    """By what a list is narrowed; of the site and the therapist only whether it is."""

    def rows(today: date, until: date, *values: Any) -> QuerySet[FollowUp, Any]:
        given = iter(values)
        own = replace(asked, site=asked.site and next(given), therapist=asked.therapist and next(given))
        limits = Limits(*given) if limited else None
        return _unbooked(own, today, until, limits).order_by().values_list(*_RANKED)

    return Prepared(rows)


def ranked(asked: Asked, today: date, reader: Reader | None = None) -> Order:
    """The whole list in order, in two queries; names are read where somebody looks."""
    limits = limits_of(reader)
    narrowed = [key for key in (asked.site, asked.therapist) if key]
    shape = replace(asked, site=asked.site and 1, therapist=asked.therapist and 1)
    found: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for row in _found(shape, limits is not None)(today, today + AHEAD, *narrowed, *(limits or ())):
        found[row[:6]].append(row[6])
    return Order(_steps(found, _usable_days({each[:5] for each in found}, today)))


def _steps(found: Mapping[tuple[Any, ...], list[int]], usable: Mapping[tuple[Any, ...], int]) -> dict[Step, list[int]]:
    """Keys by what their place hangs on, of those by window and whether they have a place."""
    steps: dict[Step, list[int]] = defaultdict(list)
    for each, keys in found.items():
        window, has_place = Window(*each[:5]), each[5]
        steps[Step(usable[window], has_place, window.kind in REVIEWS, window.latest_on)] += keys
    return steps


def read(chosen: Sequence[Ranked]) -> Iterator[Row]:
    """Some of the list as rows, in one query for each `BATCH`."""
    for start in range(0, len(chosen), BATCH):
        own = chosen[start : start + BATCH]
        stored = {row[0]: row for row in _ROWS([each.id for each in own])}
        yield from (Row(*stored[each.id])._replace(usable=each.usable) for each in own)


_ROWS: Final = Prepared(lambda keys: FollowUp.objects.filter(pk__in=keys).order_by().values_list(*_STORED))


def rows(asked: Asked, today: date, reader: Reader | None = None) -> list[Row]:
    """The whole list in order, every row of it."""
    return list(read(ranked(asked, today, reader)[:]))


def key_of(name: str) -> int | None:
    """The key of the follow-up of this name, on the list or not."""
    code, _, key = name.partition("/")
    return next((id for (id,) in _NAMED(code, key)), None)


_NAMED: Final = Prepared(lambda code, key: FollowUp.objects.filter(episode__code=code, key=key).values_list("id"))


Days = Mapping[str, Sequence[date]]
"""The days, in order, on which a session takes a kind of follow-up; under "" those on which one takes every kind."""


def _usable_days(windows: Iterable[tuple[Any, ...]], today: date) -> dict[tuple[Any, ...], int]:
    """Of each of these windows, in one query."""
    known = [Window(*each) for each in windows]
    days = _session_days(known, today)
    return {each: _usable(each, days[each.site_id], today) for each in known}


def _session_days(windows: Sequence[Window], today: date) -> dict[int, Days]:
    """By site, in one query."""
    days: dict[int, dict[str, set[date]]] = defaultdict(lambda: defaultdict(set))
    if windows:
        last = max(last_day(each, today) for each in windows)
        for site, on, takes in _HELD([*{each.site_id for each in windows}], today, last):
            for kind in takes or [""]:
                days[site][kind].add(on)
    return defaultdict(dict, {site: _in_order(own) for site, own in days.items()})


def _held(sites: Iterable[int], today: date, last: date) -> QuerySet[Session, Any]:
    held = Session.objects.filter(live=True, on__gte=today, on__lte=last, site__in=sites)
    return held.order_by().values_list("site_id", "on", "takes").distinct()


_HELD: Final = Prepared(_held)


def _in_order(days: Mapping[str, set[date]]) -> Days:
    every = days.get("", set())
    return {kind: sorted(every | days.get(kind, set())) for kind in ("", *FollowUpKind)}


def _usable(row: Window, days: Days, today: date) -> int:
    held = days.get(row.kind, ())
    return max(0, bisect_right(held, last_day(row, today)) - bisect_left(held, max(today, row.earliest_on)))


def last_day(row: Row | Window, today: date) -> date:
    """The last day of the window; one that is provisional moves along with today."""
    if row.provisional and row.latest_on < today:
        return today + (row.latest_on - row.earliest_on)
    return row.latest_on


def open_rows(at: datetime) -> dict[int, WorkedOn]:
    """Who works on which patient's row just now, by patient. One query."""
    return {row.patient_id: row for row in _OPEN(at - OPEN_FOR)}


_OPEN: Final = PreparedModels(lambda since: WorkedOn.objects.filter(at__gte=since).select_related("by"))
