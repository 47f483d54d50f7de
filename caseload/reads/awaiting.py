"""What waits for a therapist's own hand: open red flags, and reports that nobody has countersigned.

Both are of findings, not of days: they wait although nothing is booked or due.
"""

from collections.abc import Collection
from datetime import date
from typing import Final, NamedTuple

from django.db.models import Case, OuterRef, Q, QuerySet, Subquery, When

from caseload.models import Countersignature, Finding, RedFlagClosure, RedFlagEscalation
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import has_one
from caseload.timetable.concerns import owner_on
from caseload.timetable.headlines import red_flag_of
from caseload.timetable.terms import FindingKind, Source
from caseload.wording.record import say_flag_since, say_found

MOST = 50
REPORTS = (Source.REPORTED, Source.PHOTO)


class Awaiting(NamedTuple):
    """A finding that waits, in words; `red_flag`, or else a report to countersign. Of a flag, `since` says how long it
    is open and whose it is, and `passed_on` to whom it went last, "" if nobody noted it.
    """

    row: Finding
    said: str
    red_flag: bool
    since: str
    passed_on: str


def awaiting(therapists: Collection[int], today: date) -> list[Awaiting]:
    """Of the open episodes of these therapists, red flags first; in one query."""
    return [_awaiting(row, today) for row in _WAITING([*therapists], today)]


def _waiting(therapists: Collection[int], today: date) -> QuerySet[Finding]:
    of_them = Finding.objects.filter(episode__therapist__in=therapists, episode__ended_on__isnull=True, on__lte=today)
    waits = (_open_flag() | _unsigned()) & _stands()
    first = Case(When(kind=FindingKind.RED_FLAG, then=0), default=1)  # before the cut: a flag is never one too many
    order = (first, "on", "id")
    wanted = of_them.filter(waits).order_by(*order).values("pk")[:MOST]
    passed_on = RedFlagEscalation.objects.filter(finding=OuterRef("pk")).order_by("-recorded_at", "-id")
    rows = Finding.objects.filter(pk__in=wanted).annotate(passed_on=Subquery(passed_on.values("to")[:1]))
    return rows.select_related("episode__patient").order_by(*order)


_WAITING: Final = PreparedModels(_waiting)


def _awaiting(row: Finding, today: date) -> Awaiting:
    if row.kind != FindingKind.RED_FLAG:
        return Awaiting(row, say_found(row), False, "", "")
    since = say_flag_since(row.on, today, owner_on(red_flag_of(row.on), today))
    return Awaiting(row, say_found(row), True, since, row.passed_on or "")  # type: ignore[attr-defined]


def _stands() -> Q:
    """As `standing()`, asked a row at a time: PostgreSQL expects one row of this list, and joined by reading all."""
    return Q(withdraws=False) & ~has_one(Finding.objects.filter(corrects=OuterRef("pk")))


def _open_flag() -> Q:
    return Q(kind=FindingKind.RED_FLAG) & ~has_one(RedFlagClosure.objects.filter(finding=OuterRef("pk")))


def _unsigned() -> Q:
    """Reports that nobody vouched for, and that nothing seen here since has made needless."""
    seen = Finding.objects.standing().filter(
        episode=OuterRef("episode"), kind=OuterRef("kind"), source=Source.SEEN, on__gte=OuterRef("on")
    )
    signed = Countersignature.objects.filter(finding=OuterRef("pk"))
    reports = Q(source__in=REPORTS) & ~Q(kind=FindingKind.RED_FLAG)
    return reports & ~has_one(signed) & ~has_one(seen)
