"""Who has to be told: appointments that were booked, moved or cancelled, and whose patient does not know yet."""

from collections.abc import Iterable, Sequence
from datetime import date
from functools import cache
from typing import Any, Final, NamedTuple

from django.db.models import OuterRef, QuerySet

from caseload.models import Appointment, Episode, Notice, Site, TrailEntry
from caseload.reads.calendars import calendars_of
from caseload.reads.notices_of import news_of
from caseload.reads.prepared import Prepared
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Limits, Reader, has_one, limits_of, many_seen_by, many_within
from caseload.timetable.terms import Ending

OPEN_DAYS: Final = 2
"""Untold for so many open days, it tops the list."""
MOST: Final = 50


class Untold(NamedTuple):
    """`before_on` is the day it was on until it moved; `overdue` after two open days; `notice` is what was or will be
    written about it, which tells nobody yet: a person says that they know."""

    appointment: Appointment
    before_on: date | None
    overdue: bool
    notice: Notice | None = None


def untold(today: date, site: int | None = None, reader: Reader | None = None) -> list[Untold]:
    """Those untold, longest first; none of a patient who died. A constant number of queries."""
    limits = limits_of(reader)
    found = _longest(bool(site), limits is not None)(*([site] if site else []), *(limits or ()))
    before, overdue = _before(found), _overdue(found, today)
    written = news_of(found)
    return [Untold(row, before.get(row.pk), row.pk in overdue, written.get(row.pk)) for row in found]


@cache
def _longest(of_site: bool, limited: bool) -> PreparedModels[Appointment]:
    def rows(*values: Any) -> QuerySet[Appointment]:
        found = _untold().filter(site=values[0]) if of_site else _untold()
        if limited:
            found = many_within(found, Limits(*values[of_site:]))
        return found.select_related("patient", "site__region").order_by("untold_since_on", "pk")[:MOST]

    return PreparedModels(rows)


def untold_count(reader: Reader | None = None) -> int:
    return many_seen_by(reader, _untold()).count()


def _untold() -> QuerySet[Appointment]:
    """Whoever has come knows of it; they are listed again if the arrival is taken back."""
    died = Episode.objects.filter(patient=OuterRef("patient"), ended_how=Ending.DIED)
    return Appointment.objects.filter(~has_one(died), untold_since_on__isnull=False, arrived_at=None)


def _before(found: Sequence[Appointment]) -> dict[int, date]:
    """The day each was on before it was last moved, as the trail has it."""
    keys = [row.pk for row in found if row.live]
    days: dict[int, date] = {}
    for subject, changed in _ENTRIES(keys):
        was = (changed.get("on") or [None])[0]
        if was and subject:
            days[subject] = date.fromisoformat(str(was))
    return days


def _entries(keys: Iterable[int]) -> QuerySet[TrailEntry, Any]:
    entries = TrailEntry.objects.filter(subject="appointment", subject_id__in=keys).order_by("at", "pk")
    return entries.values_list("subject_id", "changed")


_ENTRIES: Final = Prepared(_entries)


def _overdue(found: Sequence[Appointment], today: date) -> set[int]:
    sites: Iterable[Site] = {row.site.pk: row.site for row in found}.values()
    calendars = calendars_of(sites) if found else {}
    passed = set()
    for row in found:
        days = calendars[row.site_id].next_open_days(row.untold_since_on, OPEN_DAYS)  # type: ignore[arg-type]
        if len(days) == OPEN_DAYS and days[-1] < today:
            passed.add(row.pk)
    return passed
