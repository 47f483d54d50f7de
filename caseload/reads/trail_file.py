"""The trail as a file in the terms of an audit event: a table, or one JSON object on each line."""

import json
from collections.abc import Iterable, Iterator
from io import StringIO
from typing import Final

from caseload.access.audit_event import Row, address_of, audit_event, instant
from caseload.exchange.cells import Written
from caseload.exchange.writing import put_csv

HEADERS: Final = (
    "Recorded", "Agent", "Agent's code", "Network address", "Origin", "Type", "Subtype", "Action", "Outcome",
    "Patient's code", "Entity", "Rows", "What", "Why", "Changed",
)  # fmt: skip
MEDIA: Final = {"csv": "text/csv; charset=utf-8", "json": "application/fhir+ndjson"}


def written(kind: str, rows: Iterable[Row], service: str, *, first: bool) -> bytes:
    """Some rows in a kind of file; the `first` ones come with the header of a table."""
    if kind == "json":
        lines = (json.dumps(audit_event(row, service), ensure_ascii=False) for row in rows)
        return "".join(f"{line}\n" for line in lines).encode()
    text = StringIO(newline="")
    put_csv(text, HEADERS, (list(_cells(row)) for row in rows))
    said = text.getvalue()
    return said.encode("utf-8-sig") if first else said[said.index("\r\n") + 2 :].encode()


def _cells(row: Row) -> Iterator[Written]:
    """As HEADERS names them."""
    yield from (instant(row.at), row.name or "the planner", row.agent, address_of(row.origin), row.origin)
    yield from (row.kind.type.display, row.kind.subtype.display if row.kind.subtype else "")
    yield from (str(row.kind.action), str(row.kind.outcome), row.patient, row.subject, row.rows or None)
    yield from (row.said, row.why, json.dumps(row.changed, ensure_ascii=False) if row.changed else "")
