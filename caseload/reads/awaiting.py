"""What waits for a therapist's own hand: open red flags, and reports that nobody has countersigned.

Both are of findings, not of days: they wait although nothing is booked or due.
"""

from collections.abc import Collection
from datetime import date
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Q, QuerySet

from caseload.models import Finding
from caseload.timetable.terms import FindingKind, Source
from caseload.wording.record import say_found

MOST = 50
REPORTS = (Source.REPORTED, Source.PHOTO)


class Awaiting(NamedTuple):
    """A finding that waits, in words; `red_flag`, or else a report to countersign."""

    row: Finding
    said: str
    red_flag: bool


def awaiting(therapists: Collection[int], today: date) -> list[Awaiting]:
    """Of the open episodes of these therapists, red flags first; in one query."""
    standing = Finding.objects.standing().filter(
        episode__therapist__in=therapists, episode__ended_on__isnull=True, on__lte=today
    )
    flags = Q(kind=FindingKind.RED_FLAG, closure__isnull=True)
    rows = standing.filter(flags | Q(pk__in=unsigned().values("pk"))).select_related("episode__patient", "by")
    found = [
        Awaiting(row, say_found(row), row.kind == FindingKind.RED_FLAG) for row in rows.order_by("on", "id")[:MOST]
    ]
    return sorted(found, key=lambda each: not each.red_flag)


def unsigned() -> QuerySet[Finding]:
    """Reports that nobody vouched for, and that nothing seen here since has made needless."""
    seen = Finding.objects.standing().filter(
        episode=OuterRef("episode"), kind=OuterRef("kind"), source=Source.SEEN, on__gte=OuterRef("on")
    )
    reports = Finding.objects.standing().filter(source__in=REPORTS, countersignature__isnull=True)
    return reports.exclude(kind=FindingKind.RED_FLAG).filter(~Exists(seen))
