"""Any uploaded list as a table: what it is is decided by its content, never by its name."""

from collections.abc import Iterable
from itertools import islice
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.exchange.cells import MAX_BYTES, MAX_COLUMNS, MAX_ROWS, Cell, cell_text, undefuse
from caseload.exchange.delimited import read_delimited
from caseload.exchange.workbook import read_workbook, refused_list
from caseload.parsing import tidy

_LOOKED_AT = 50
"""Rows among which the header is looked for."""
BEYOND = "beyond column"
"""Header for cells that stand to the right of the last header."""


class Row(NamedTuple):
    """`number` counts rows as a spreadsheet shows them, from 1, blank rows and titles included.

    `cells` are as many as the headers; `beyond` is what stood to the right of them: a sign of shifted columns.
    """

    number: int
    cells: tuple[Cell, ...]
    beyond: tuple[Cell, ...] = ()


class Table(NamedTuple):
    """Headers are distinct and never empty. `other_sheets`: further sheets that hold something and were not read."""

    headers: tuple[str, ...]
    rows: tuple[Row, ...]
    header_number: int = 1
    other_sheets: tuple[str, ...] = ()


def read_table(data: bytes) -> Table:
    """CSV (comma, semicolon, tab; UTF-8, UTF-16, Windows-1252) or XLSX. Raises Refusal on anything else."""
    if not data.strip():
        raise Refusal("file-empty", "The file is empty: export the list again and check that it holds rows.")
    if len(data) > MAX_BYTES:
        limit = MAX_BYTES // (1024 * 1024)
        raise Refusal("file-too-big", f"The file is larger than {limit} MB: split the list and upload the parts.")
    if data.startswith(b"PK"):
        sheet = read_workbook(data)
        return _shape(sheet.rows, sheet.others)
    _refuse_other_kinds(data)
    return _shape(read_delimited(data), ())


def _refuse_other_kinds(data: bytes) -> None:
    remedy = "save it as CSV or as an XLSX workbook and upload that"
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refusal("old-workbook", f"This is an old (.xls) or a password-protected workbook: {remedy}.")
    if data.startswith((b"%PDF", b"{\\rtf", b"\x89PNG", b"\xff\xd8\xff")):
        raise Refusal("not-a-table", f"This is a document or a picture, not a list: {remedy}.")
    if data[:256].removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"<"):
        raise Refusal("markup", f"This is a web page or XML under another name: open it in a spreadsheet, {remedy}.")


def _shape(raw: Iterable[tuple[int, list[Cell]]], others: tuple[str, ...]) -> Table:
    filled = ((number, _trimmed(cells)) for number, cells in raw)
    rows = list(islice((row for row in filled if row[1]), MAX_ROWS + _LOOKED_AT + 1))
    if not rows:
        raise Refusal("file-empty", "The file holds no filled cell: export the list again and check it.")
    place = _header_place([cells for _, cells in rows[:_LOOKED_AT]])
    number, named = rows[place]
    body = rows[place + 1 :]
    if len(body) > MAX_ROWS:
        raise refused_list("too-many-rows")
    if max(len(cells) for _, cells in rows) > MAX_COLUMNS:
        raise refused_list("too-many-columns")
    headers = _headers(named)
    return Table(headers, tuple(_row(n, cells, len(headers)) for n, cells in body), number, others)


def _trimmed(cells: list[Cell]) -> list[Cell]:
    """Without blank cells at the end; blank text is nothing, defused text is itself again."""
    even: list[Cell] = [(undefuse(cell) if cell else None) if isinstance(cell, str) else cell for cell in cells]
    while even and _blank(even[-1]):
        even.pop()
    return even


def _blank(cell: Cell) -> bool:
    return cell is None or isinstance(cell, str) and not cell.strip()


def _header_place(rows: list[list[Cell]]) -> int:
    """The first row with at least three fifths of the cells of the fullest: titles above a header hold few."""
    counts = [sum(not _blank(cell) for cell in cells) for cells in rows]
    return next(place for place, count in enumerate(counts) if count * 5 >= max(counts) * 3)


def _headers(cells: list[Cell]) -> tuple[str, ...]:
    seen: dict[str, int] = {}
    for place, cell in enumerate(cells, 1):
        name = tidy(cell_text(cell)) or f"column {place}"
        while name in seen:
            seen[name] += 1
            name = f"{name} ({seen[name]})"
        seen[name] = 1
    return tuple(seen)


def _row(number: int, cells: list[Cell], width: int) -> Row:
    return Row(number, (*cells[:width], *[None] * (width - len(cells))), tuple(cells[width:]))
