"""What the rows of a page of the booking list tell beside: faulty places, those that fell away, today's calls."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final, NamedTuple

from django.db.models import QuerySet
from django.utils import timezone

from caseload.booking.good import Booked, Fault, faults
from caseload.booking.needs import Asked as Wanted
from caseload.booking.needs import minutes_for
from caseload.models import Appointment, Contact, FollowUp, Purpose, State
from caseload.reads.openings import asked_of
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.to_book import Row
from caseload.timetable.terms import FollowUpKind, Outcome, Way


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


def details(shown: Sequence[Row], at: datetime) -> dict[int, Detail]:
    """What the rows of a page tell beside, by follow-up, in two queries."""
    purposes = _PURPOSES([row.id for row in shown])
    calls = _calls({row.patient_id for row in shown}, at)
    return {row.id: _detail(row, purposes, calls[row.patient_id]) for row in shown}


def _served(follow_ups: Iterable[int]) -> QuerySet[Purpose]:
    """Everything served by the appointments, of now and before, of some follow-ups."""
    own = Purpose.objects.filter(follow_up__in=follow_ups).values("appointment")
    return Purpose.objects.filter(appointment__in=own).select_related("appointment", "follow_up").order_by("pk")


def _rung(patients: Iterable[int], since: datetime, at: datetime) -> QuerySet[Contact]:
    return Contact.objects.filter(patient__in=patients, at__gte=since, at__lte=at).order_by("at", "pk")


_PURPOSES: Final = PreparedModels(_served)
_CALLS: Final = PreparedModels(_rung)


def _calls(patients: Iterable[int], at: datetime) -> dict[int, list[Contact]]:
    """The calls and messages of this day so far, in order."""
    since = timezone.localtime(at).replace(hour=0, minute=0, second=0, microsecond=0)
    found: dict[int, list[Contact]] = defaultdict(list)
    for call in _CALLS([*patients], since, at):
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
