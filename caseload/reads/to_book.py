"""The booking list: follow-ups that need a visit and have no good appointment, fewest usable days first.

Two queries give the whole list in order, two more what the rows of a page tell beside, one who has which row open.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, NamedTuple

from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.expressions import CombinedExpression
from django.db.models.functions import Greatest, Least
from django.utils import timezone

from caseload.booking.good import Booked, Fault, faults
from caseload.booking.needs import Asked as Wanted
from caseload.booking.needs import minutes_for
from caseload.booking.slots import INTERPRETER, LONGEST, SLOT
from caseload.models import Appointment, Contact, Episode, FollowUp, Purpose, Session, State, WorkedOn
from caseload.reads.openings import asked_of
from caseload.reads.reach import Reader, open_seen_by
from caseload.timetable.terms import FollowUpKind, Outcome, Way

AHEAD: Final = timedelta(days=28)
"""A window that opens later than this is not booked yet."""
REVIEWS: Final = frozenset({FollowUpKind.THERAPY_REVIEW, FollowUpKind.SET_REVIEW, FollowUpKind.OUTCOME_REVIEW})
"""What can wait longer than stitches and wounds that are as urgent by their days."""
OPEN_FOR: Final = timedelta(minutes=3)
"""So long a row counts as worked on after it was opened, or after the page last said that it is."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Which part of the list is asked for; empty for all."""

    kind: str = ""
    site: int | None = None
    therapist: int | None = None
    unassigned: bool = False


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


class Ended(NamedTuple):
    """An appointment for it that was missed or cancelled."""

    outcome: Outcome
    on: date
    ended_on: date | None
    why: str


@dataclass(frozen=True, slots=True)
class Detail:
    """What a row tells beside: the faulty appointment and its faults, those that fell away before, today's calls."""

    appointment: Appointment | None = None
    faults: tuple[Fault, ...] = ()
    ended: tuple[Ended, ...] = ()
    calls: tuple[Contact, ...] = ()


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
    due = FollowUp.objects.due().filter(
        minutes__gt=0, earliest_on__lte=today + AHEAD, episode__in=Episode.objects.on_caseload(today)
    )
    rows = open_seen_by(reader, due, "episode__")
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
    seen = Q(appointment__way=Way.IN_PERSON) | Q(follow_up__in_person=False)
    good = seen & (inside | Q(follow_up__provisional=True))
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


def rows(asked: Asked, today: date, reader: Reader | None = None) -> list[Row]:
    """The whole list in order, in two queries: fewest usable days; of these who has nothing booked before who has a
    place that is not good, then stitches and wounds before reviews; then the last day and the name."""
    found = [Row(*row) for row in unbooked(asked, today, reader).order_by().values_list(*_STORED)]
    days = _session_days(found, today)
    counted = [row._replace(usable=_usable(row, days[row.site_id], today)) for row in found]
    return sorted(counted, key=_urgency)


def _urgency(row: Row) -> tuple[int, bool, bool, date, str, int]:
    return (row.usable, row.booked_on is not None, row.kind in REVIEWS, row.latest_on, row.search_key, row.id)


Days = Mapping[str, Sequence[date]]
"""The days, in order, on which a session takes a kind of follow-up; under "" those on which one takes every kind."""


def _session_days(found: Sequence[Row], today: date) -> dict[int, Days]:
    """By site, in one query."""
    days: dict[int, dict[str, set[date]]] = defaultdict(lambda: defaultdict(set))
    if found:
        last = max(last_day(row, today) for row in found)
        held = Session.objects.filter(live=True, on__gte=today, on__lte=last, site__in={row.site_id for row in found})
        for site, on, takes in held.order_by().values_list("site_id", "on", "takes").distinct():
            for kind in takes or [""]:
                days[site][kind].add(on)
    return defaultdict(dict, {site: _in_order(own) for site, own in days.items()})


def _in_order(days: Mapping[str, set[date]]) -> Days:
    every = days.get("", set())
    return {kind: sorted(every | days.get(kind, set())) for kind in ("", *FollowUpKind)}


def _usable(row: Row, days: Days, today: date) -> int:
    held = days.get(row.kind, ())
    return max(0, bisect_right(held, last_day(row, today)) - bisect_left(held, max(today, row.earliest_on)))


def last_day(row: Row, today: date) -> date:
    """The last day of the window; one that is provisional moves along with today."""
    if row.provisional and row.latest_on < today:
        return today + (row.latest_on - row.earliest_on)
    return row.latest_on


def details(shown: Sequence[Row], at: datetime) -> dict[int, Detail]:
    """What the rows of a page tell beside, by follow-up, in two queries."""
    purposes = _purposes([row.id for row in shown])
    calls = _calls({row.patient_id for row in shown}, at)
    return {row.id: _detail(row, purposes, calls[row.patient_id]) for row in shown}


def _purposes(follow_ups: Sequence[int]) -> list[Purpose]:
    """Everything served by the appointments, of now and before, of some follow-ups."""
    own = Purpose.objects.filter(follow_up__in=follow_ups).values("appointment")
    return list(Purpose.objects.filter(appointment__in=own).select_related("appointment", "follow_up").order_by("pk"))


def _calls(patients: Iterable[int], at: datetime) -> dict[int, list[Contact]]:
    """The calls and messages of this day so far, in order."""
    since = timezone.localtime(at).replace(hour=0, minute=0, second=0, microsecond=0)
    found: dict[int, list[Contact]] = defaultdict(list)
    for call in Contact.objects.filter(patient__in=patients, at__gte=since, at__lte=at).order_by("at", "pk"):
        found[call.patient_id].append(call)
    return found


def _detail(row: Row, purposes: Sequence[Purpose], calls: Sequence[Contact]) -> Detail:
    own = [purpose for purpose in purposes if purpose.follow_up_id == row.id]
    over = [each.appointment for each in own if each.appointment.ended_on and not each.appointment.live]
    ended = tuple(Ended(Outcome(each.outcome), each.on, each.ended_on, each.ended_why) for each in over)
    live = next((purpose.appointment for purpose in own if purpose.live), None)
    if live is None:
        return Detail(ended=ended, calls=tuple(calls))
    served = [each.follow_up for each in purposes if each.appointment_id == live.pk and each.live]
    return Detail(live, tuple(amiss(row, live, served)), ended, tuple(calls))


def amiss(row: Row, appointment: Appointment, served: Sequence[FollowUp]) -> Iterator[Fault]:
    """The faults of an appointment as far as they concern one follow-up that it serves; its length is for all."""
    booked = Booked(
        appointment.on, appointment.minutes, appointment.site_id, Way(appointment.way), bool(appointment.approved_by),
        appointment.interpreter_told,
    )  # fmt: skip
    own = Wanted(
        row.key, FollowUpKind(row.kind), row.earliest_on, row.target_on, row.latest_on, row.minutes, row.in_person,
        row.provisional,
    )  # fmt: skip
    due = [asked_of(each) for each in served if each.state == State.DUE]
    short = booked.minutes < minutes_for((each.minutes for each in due), row.interpreter)
    for fault in faults([own], booked, site=row.site_id, interpreter=row.interpreter):
        if fault is not Fault.TOO_SHORT:
            yield fault
    if short:
        yield Fault.TOO_SHORT


def open_rows(at: datetime) -> dict[int, WorkedOn]:
    """Who works on which patient's row just now, by patient. One query."""
    rows = WorkedOn.objects.filter(at__gte=at - OPEN_FOR).select_related("by")
    return {row.patient_id: row for row in rows}
