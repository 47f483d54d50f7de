"""What waits for a therapist's own hand: open red flags, and reports that nobody has countersigned.

Both are of findings, not of days: they wait although nothing is booked or due.
"""

from collections.abc import Collection
from datetime import date
from typing import NamedTuple

from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Subquery, When

from caseload.models import Finding, RedFlagEscalation
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
    standing = Finding.objects.standing().filter(
        episode__therapist__in=therapists, episode__ended_on__isnull=True, on__lte=today
    )
    flags = Q(kind=FindingKind.RED_FLAG, closure__isnull=True)
    passed_on = RedFlagEscalation.objects.filter(finding=OuterRef("pk")).order_by("-recorded_at", "-id")
    rows = standing.filter(flags | Q(pk__in=unsigned().values("pk"))).select_related("episode__patient", "by")
    rows = rows.annotate(passed_on=Subquery(passed_on.values("to")[:1]))
    first = Case(When(kind=FindingKind.RED_FLAG, then=0), default=1)  # before the cut: a flag is never one too many
    return [_awaiting(row, today) for row in rows.order_by(first, "on", "id")[:MOST]]


def _awaiting(row: Finding, today: date) -> Awaiting:
    if row.kind != FindingKind.RED_FLAG:
        return Awaiting(row, say_found(row), False, "", "")
    since = say_flag_since(row.on, today, owner_on(red_flag_of(row.on), today))
    return Awaiting(row, say_found(row), True, since, row.passed_on or "")  # type: ignore[attr-defined]


def unsigned() -> QuerySet[Finding]:
    """Reports that nobody vouched for, and that nothing seen here since has made needless."""
    seen = Finding.objects.standing().filter(
        episode=OuterRef("episode"), kind=OuterRef("kind"), source=Source.SEEN, on__gte=OuterRef("on")
    )
    reports = Finding.objects.standing().filter(source__in=REPORTS, countersignature__isnull=True)
    return reports.exclude(kind=FindingKind.RED_FLAG).filter(~Exists(seen))
