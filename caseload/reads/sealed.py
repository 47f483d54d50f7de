"""The rows of the trail as they are sealed: which columns, in which form, and the digest of each."""

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from django.db.models import Model, QuerySet

from caseload.access.audit_event import instant
from caseload.exchange.seals import digest_of
from caseload.models import Look, Seal, TrailEntry

AT_ONCE: Final = 2000
"""Rows in memory."""


class Table(NamedTuple):
    """`keys` are columns that hold keys of rows, which may be larger than JSON's numbers are exact."""

    model: type[Model]
    keys: tuple[str, ...]
    values: tuple[str, ...]


TABLES: Final[Mapping[str, Table]] = {
    "entries": Table(
        TrailEntry, ("id", "by_id", "patient_id", "subject_id"), ("at", "act", "subject", "changed", "origin", "why")
    ),
    "looks": Table(Look, ("id", "by_id", "patient_id"), ("at", "route", "rows", "origin", "why")),
}


def digests(table: str, rows: QuerySet[Any]) -> Iterator[tuple[int, str]]:
    """The key and the digest of each of some rows, in order of their keys, a few at a time in memory."""
    _, keys, values = TABLES[table]
    said = rows.order_by("id").values_list(*keys, *values)
    for row in said.iterator(chunk_size=AT_ONCE):
        form: dict[str, Any] = {name: None if key is None else str(key) for name, key in zip(keys, row, strict=False)}
        form |= zip(values, row[len(keys) :], strict=True)
        yield row[0], digest_of(form | {"table": table, "at": instant(form["at"])})


def heading_of(seal: Seal) -> dict[str, Any]:
    """What a seal says beside its rows, in the form in which it is part of its digest."""
    plain = {name: getattr(seal, name) for name in ("number", "before", "rows", "spans", "upto")}
    return plain | {"at": instant(seal.at)}
