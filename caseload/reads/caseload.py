"""The caseload: every open episode with its next step, its headline and its day line."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.db.models import FilteredRelation, Q, QuerySet

from caseload.models import Episode
from caseload.reads.lines import Line, Subject, lines_of
from caseload.reads.reach import Reader, open_of

BATCH = 500
LAST = ("next_on", "id")
"""The order of what is otherwise equal; the key comes last, so that no row is on two pages."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What of the caseload is asked for. `headline` is empty for those in hand, None for all."""

    site: int | None = None
    therapist: int | None = None
    unassigned: bool = False
    headline: str | None = None
    owner: str = ""
    suture: str = ""
    planned: bool = False
    name: str = ""


class Row(NamedTuple):
    """An open episode. `headline` is None for one that is still planned."""

    id: int
    code: str
    side: str
    digit: str
    suture: str
    stitches_in: int | None
    surgery_on: date | None
    next_kind: str
    next_on: date | None
    next_owner: str
    site_id: int
    therapist_id: int | None
    family: str
    given: str
    born_on: date | None
    headline: str | None
    owner: str | None
    due_on: date | None
    line: Line | None = None


_STORED = (
    "id", "code", "side", "digit", "suture", "stitches_in", "surgery_on", "next_kind", "next_on", "next_owner",
    "site_id", "therapist_id", "patient__family", "patient__given", "patient__born_on",
    "standing__headline", "standing__owner", "standing__due_on",
)  # fmt: skip


def episodes(asked: Asked, today: date, reader: Reader | None = None) -> QuerySet[Episode]:
    """The open episodes asked for, of patients in reach, in no order."""
    rows = Episode.objects.planned(today) if asked.planned else Episode.objects.on_caseload(today)
    found = (
        open_of(reader, rows, "", asked.therapist)
        .order_by()
        .annotate(standing=FilteredRelation("standings", condition=_stands_on(today)))
    )
    if asked.site is not None:
        found = found.filter(site=asked.site)
    if asked.therapist is not None:
        found = found.filter(therapist=asked.therapist)
    if asked.unassigned:
        found = found.filter(therapist__isnull=True)
    if asked.headline is not None:
        found = found.filter(standing__headline=asked.headline)
    if asked.owner:
        found = found.filter(standing__owner=asked.owner)
    if asked.suture:
        found = found.filter(suture=asked.suture)
    if asked.name:
        found = found.filter(patient__search_key__contains=asked.name)
    return found


def _stands_on(today: date) -> Q:
    return Q(standings__from_on__lte=today, standings__until_on__gt=today)


def rows(found: QuerySet[Episode], order: Sequence[str], start: int, stop: int, today: date) -> list[Row]:
    """The rows from `start` up to `stop` in this order, with their day lines, in three queries.

    The ids of the page come from a narrow query first; only those are joined to all that a row shows.
    """
    if start >= stop:
        return []
    ordering = in_order(order, LAST)
    wanted = found.order_by(*ordering).values("pk")[start:stop]
    shown = Episode.objects.annotate(standing=FilteredRelation("standings", condition=_stands_on(today)))
    stored = [Row(*row) for row in shown.filter(pk__in=wanted).order_by(*ordering).values_list(*_STORED)]
    lines = lines_of([Subject(row.id, row.surgery_on, row.suture, row.stitches_in) for row in stored], today).lines
    return [row._replace(line=lines.get(row.id)) for row in stored]


def in_order(asked: Sequence[str], last: Sequence[str]) -> list[str]:
    """The fields to order by: those asked for, then the rest of the list's own order. None twice, or no index fits."""
    named = {field.removeprefix("-") for field in asked}
    return [*asked, *(field for field in last if field not in named)]


def all_rows(found: QuerySet[Episode], order: Sequence[str], today: date) -> Iterator[Row]:
    """Every row in this order, read in batches; none comes twice, whatever moves meanwhile."""
    keys = list(found.order_by(*in_order(order, LAST)).values_list("pk", flat=True))
    for start in range(0, len(keys), BATCH):
        yield from rows(found.filter(pk__in=keys[start : start + BATCH]), order, 0, BATCH, today)
