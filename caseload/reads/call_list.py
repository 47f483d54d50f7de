"""Whom to ring today: reminders by telephone that are due, the soonest appointment first."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from caseload.booking.notices import Channel
from caseload.models import Contact, Episode, Notice, NoticeState, Reached
from caseload.models.contacts import How
from caseload.reads.reach import Reader, many_seen_by
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
    still = Q(until_at__isnull=True) | Q(until_at__gt=now)
    rows = Notice.objects.filter(still, state=NoticeState.WAITING, channel=Channel.CALL, due_at__lte=now)
    return many_seen_by(reader, rows)


def calls(now: datetime, start: int, stop: int, reader: Reader | None = None) -> list[Call]:
    """Those from `start` up to `stop`, in two queries."""
    others = Episode.objects.filter(patient__search_key=OuterRef("patient__search_key"), ended_on__isnull=True)
    twins = Exists(others.exclude(patient=OuterRef("patient")))
    rows = due_calls(now, reader).annotate(same_name=twins).select_related("patient", "appointment__site")
    found = list(rows.order_by("appointment__on", "appointment__start_minute", "pk")[start:stop])
    tried, on = _tried(found), timezone.localdate(now)
    return [Call(row, tried[row.pk], row.same_name, is_child(row.patient.born_on, on)) for row in found]


def _tried(rows: Iterable[Notice]) -> dict[int, list[Contact]]:
    by_patient: dict[int, list[Notice]] = defaultdict(list)
    for row in rows:
        by_patient[row.patient_id].append(row)
    found: dict[int, list[Contact]] = defaultdict(list)
    rung = Contact.objects.filter(patient__in=by_patient, how=How.PHONE, reached__in=REACHED_NOBODY)
    for contact in rung.order_by("-at", "-pk") if by_patient else ():
        for row in by_patient[contact.patient_id]:
            if contact.at >= row.due_at:
                found[row.pk].append(contact)
    return found
