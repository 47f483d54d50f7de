"""The patients behind a figure of the waits, row by row."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from django.db.models import QuerySet

from caseload.reads.caseload import BATCH, in_order

LAST: Final = ("-days", "id")


class Row(NamedTuple):
    """One wait, as its clock has it. `episode` is the code of an episode, "" of a wait that is a referral's; `stop` is
    None while it lasts; `days` is how long it had lasted at the end of the period, or when it stopped."""

    id: int
    patient_id: int
    patient: str
    family: str
    given: str
    born_on: date | None
    episode: str
    side: str
    digit: str
    site_id: int | None
    therapist_id: int | None
    surgeon: str
    suture: str
    priority: str
    entered_on: date | None
    days: int
    began: date
    stop: date | None
    how: str
    due: date | None


_STORED: Final = (
    "id", "patient_id", "patient__code", "patient__family", "patient__given", "patient__born_on", "episode__code",
    "episode__side", "episode__digit", "site_id", "therapist_id", "surgeon", "suture", "priority", "entered_on",
    "days", "began", "stop", "how", "due",
)  # fmt: skip


def rows(found: QuerySet[Any], order: Sequence[str], start: int, stop: int) -> list[Row]:
    """The rows of `waits.behind` from `start` up to `stop` in this order, in one query.

    Only those of the page are joined to all that a row shows.
    """
    if start >= stop:
        return []
    ordering = in_order(order, LAST)
    wanted = found.order_by(*ordering).values("pk")[start:stop]
    return [_row(values) for values in found.filter(pk__in=wanted).order_by(*ordering).values_list(*_STORED)]


def all_rows(found: QuerySet[Any], order: Sequence[str]) -> Iterator[Row]:
    """Every row in this order, read in batches; none comes twice, whatever moves meanwhile."""
    keys = list(found.order_by(*in_order(order, LAST)).values_list("pk", flat=True))
    for start in range(0, len(keys), BATCH):
        yield from rows(found.filter(pk__in=keys[start : start + BATCH]), order, 0, BATCH)


def _row(values: Sequence[Any]) -> Row:
    """Of a referral's wait there is no episode, and so no finger."""
    return Row(*values[:6], *(word or "" for word in values[6:9]), *values[9:])
