"""Reads one workbook from standard input and answers in JSON: run as `python -m caseload.exchange.xlsx_child`.

It limits its own memory and time before it touches the file. A day is written `["2026-04-03"]`, so that it stays a day.
"""

import io
import json
import math
import resource
import sys
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import Any

from caseload.exchange.cells import MAX_COLUMNS, MAX_ROWS, MAX_TEXT

MEMORY = 1024 * 1024 * 1024
SECONDS = 20
MAX_CELLS = 2_000_000
MAX_CHARACTERS = 50_000_000
"""In the whole sheet: one long shared text may be named by very many cells."""
_SPARE_ROWS = 100
"""For titles and blank rows."""

Answer = dict[str, Any]


class TooMuch(Exception):
    """Carries the code of the refusal."""


def limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def read(data: bytes) -> Answer:
    """The first visible sheet that holds something, and the names of the other such sheets."""
    from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    shown = [
        about.name
        for about in book.sheets_metadata
        if about.typ == SheetTypeEnum.WorkSheet and about.visible == SheetVisibleEnum.Visible
    ]
    filled = [sheet for name in shown if (sheet := book.get_sheet_by_name(name)).start is not None]
    if not filled:
        return {"refused": "workbook-empty"}
    try:
        rows = list(_rows(filled[0].iter_rows()))
    except TooMuch as problem:
        return {"refused": str(problem)}
    return {"rows": rows, "others": [sheet.name for sheet in filled[1:]]}


def _rows(rows: Iterable[list[Any]]) -> Iterator[tuple[int, list[Any]]]:
    """Rows that hold something, with their numbers, without the empty cells at their end."""
    characters = count = filled = 0
    for number, cells in enumerate(rows, 1):
        while cells and cells[-1] == "":
            cells.pop()
        if cells:
            count += 1
            filled += len(cells)
            characters += sum(len(cell) for cell in cells if isinstance(cell, str))
            _check(cells, count, filled, characters)
            yield number, [_plain(cell) for cell in cells]


def _check(cells: list[Any], count: int, filled: int, characters: int) -> None:
    if count > MAX_ROWS + _SPARE_ROWS:
        raise TooMuch("too-many-rows")
    if len(cells) > MAX_COLUMNS:
        raise TooMuch("too-many-columns")
    if filled > MAX_CELLS or characters > MAX_CHARACTERS:
        raise TooMuch("workbook-too-big")
    if any(isinstance(cell, str) and len(cell) > MAX_TEXT for cell in cells):
        raise TooMuch("cell-too-long")


def _plain(cell: Any) -> str | float | list[str] | None:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float)):
        return float(cell) if math.isfinite(cell) else str(cell)
    if isinstance(cell, datetime):
        return [cell.date().isoformat()]
    if isinstance(cell, date):
        return [cell.isoformat()]
    return str(cell) or None


def main() -> None:
    limit()
    sys.stdout.write(json.dumps(read(sys.stdin.buffer.read())))


if __name__ == "__main__":  # pragma: no cover (runs in the child)
    main()
