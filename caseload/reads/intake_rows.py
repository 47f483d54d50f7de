"""Stored rows of a theatre list as values again: their cells with their kinds, and what they say."""

import re
from collections.abc import Iterable
from datetime import date
from typing import Any

from caseload.exchange.cells import Cell
from caseload.exchange.table import Row
from caseload.exchange.theatre_row import as_read
from caseload.models import IntakeRow
from caseload.reads.matching.entry import Entry, entry_from_json

_UNSTORABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def cells_to_json(cells: Iterable[Cell]) -> list[Any]:
    """Text, numbers and nothing as they are, a day as `["2026-04-03"]`; what no database can hold is marked."""
    return [_plain(cell) for cell in cells]


def _plain(cell: Cell) -> Any:
    if isinstance(cell, str):
        return cell if cell.isprintable() else _UNSTORABLE.sub("\ufffd", cell)
    return [cell.isoformat()] if isinstance(cell, date) else cell


def cells_from_json(stored: Iterable[Any]) -> tuple[Cell, ...]:
    return tuple(date.fromisoformat(cell[0]) if isinstance(cell, list) else cell for cell in stored)


def texts_of(row: IntakeRow, headers: list[str]) -> dict[str, str]:
    """Header -> text of the filled cells of a row; nothing once they are forgotten."""
    if not row.cells:
        return {}
    cells = cells_from_json(row.cells)
    return as_read(Row(row.number, cells[: len(headers)], cells[len(headers) :]), tuple(headers))


def entries_of(rows: Iterable[IntakeRow]) -> list[Entry]:
    """What the rows say, in the order of their numbers; refused ones say nothing."""
    said = (entry for row in rows if (entry := entry_of_row(row)))
    return sorted(said, key=lambda entry: entry.number)


def entry_of_row(row: IntakeRow) -> Entry | None:
    """What a row says; None where it was refused or is forgotten."""
    return entry_from_json(row.number, row.entry, row.problems, row.decision) if row.entry else None
