"""Whom to ring today: reminders by telephone that are due, the soonest appointment first."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from functools import lru_cache
from typing import Any, Final, NamedTuple

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from caseload.booking.notices import Channel
from caseload.models import Contact, Episode, Notice, NoticeState, Reached
from caseload.models.contacts import How
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Limits, Reader, limits_of, many_within
from caseload.timetable.activities import is_child

REACHED_NOBODY = (Reached.NO_ANSWER, Reached.WRONG)


class Call(NamedTuple):
    """`tries` are the calls that reached nobody since it was due, the latest first; `same_name` says that another
    patient on the caseload has the name: the birth date is confirmed first; `child` that the adult is rung."""

    notice: Notice
    tries: list[Contact]
    same_name: bool
    child: bool


def due_calls(now: datetime, reader: Reader | None = None) -> QuerySet[Notice]:
    return _due(now, limits_of(reader))


def _due(now: datetime, limits: Limits | None) -> QuerySet[Notice]:
    still = Q(until_at__isnull=True) | Q(until_at__gt=now)
    rows = Notice.objects.filter(still, state=NoticeState.WAITING, channel=Channel.CALL, due_at__lte=now)
    return many_within(rows, limits) if limits else rows


def calls(now: datetime, start: int, stop: int, reader: Reader | None = None) -> list[Call]:
    """Those from `start` up to `stop`, in two queries."""
    limits = limits_of(reader)
    found = _page(start, stop, limits is not None)(now, *(limits or ())) if start < stop else []
    tried, on = _tried(found), timezone.localdate(now)
    return [
        Call(row, tried[row.pk], row.same_name, is_child(row.patient.born_on, on))  # type: ignore[attr-defined]
        for row in found
    ]


@lru_cache
def _page(start: int, stop: int, limited: bool) -> PreparedModels[Notice]:
    def rows(now: datetime, *limits: Any) -> QuerySet[Notice]:
        others = Episode.objects.filter(patient__search_key=OuterRef("patient__search_key"), ended_on__isnull=True)
        twins = Exists(others.exclude(patient=OuterRef("patient")))
        found = _due(now, Limits(*limits) if limited else None).annotate(same_name=twins)
        found = found.select_related("patient", "appointment__site")
        return found.order_by("appointment__on", "appointment__start_minute", "pk")[start:stop]

    return PreparedModels(rows)


def _tried(rows: Iterable[Notice]) -> dict[int, list[Contact]]:
    by_patient: dict[int, list[Notice]] = defaultdict(list)
    for row in rows:
        by_patient[row.patient_id].append(row)
    found: dict[int, list[Contact]] = defaultdict(list)
    for contact in _RUNG([*by_patient]):
        for row in by_patient[contact.patient_id]:
            if contact.at >= row.due_at:
                found[row.pk].append(contact)
    return found


def _rung(patients: Iterable[int]) -> QuerySet[Contact]:
    rung = Contact.objects.filter(patient__in=patients, how=How.PHONE, reached__in=REACHED_NOBODY)
    return rung.order_by("-at", "-pk")


_RUNG: Final = PreparedModels(_rung)
