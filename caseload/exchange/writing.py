"""Rows written as CSV or XLSX, safe to open: no text can become a formula, and dates and numbers stay what they are."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import xlsxwriter

from caseload.errors import Refusal
from caseload.exchange.cells import MAX_TEXT, Written, defuse

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

_SAFE = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_numbers": False,
    "strings_to_urls": False,
    "nan_inf_to_errors": False,
}
_MADE_AT = datetime(2000, 1, 1)
"""Stands in every workbook as its birth: the same rows give the same bytes."""
_LAST_ROW = 1_048_576


def write_csv(headers: Sequence[str], rows: Iterable[Sequence[Written]]) -> bytes:
    """UTF-8 with a mark that spreadsheets know, commas, CRLF, all text quoted; days in ISO form, yes and no."""
    lines = io.StringIO(newline="")
    put_csv(lines, headers, rows)
    return lines.getvalue().encode("utf-8-sig")


def put_csv(lines: "SupportsWrite[str]", headers: Sequence[str], rows: Iterable[Sequence[Written]]) -> None:
    """The same a row at a time, into whatever takes text as it stands."""
    writer = csv.writer(lines, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow([defuse(header) for header in headers])
    writer.writerows([_csv_cell(cell) for cell in row] for row in rows)


def _csv_cell(cell: Written) -> str | float:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    return "" if cell is None else defuse(cell) if isinstance(cell, str) else cell


def write_xlsx(headers: Sequence[str], rows: Iterable[Sequence[Written]], *, sheet: str = "list") -> bytes:
    """One sheet, its header kept in view. Raises Refusal `too-many-rows`, `cell-too-long`: nothing is cut silently."""
    data = io.BytesIO()
    book = xlsxwriter.Workbook(data, _SAFE)
    book.set_properties({"created": _MADE_AT})
    page = book.add_worksheet(sheet)
    page.freeze_panes(1, 0)
    page.set_column(0, max(len(headers) - 1, 0), 18)
    formats = {
        "head": book.add_format({"bold": True, "bottom": 1}),
        "day": book.add_format({"num_format": "ddd d mmm yyyy", "align": "left"}),
        "time": book.add_format({"num_format": "ddd d mmm yyyy hh:mm", "align": "left"}),
    }
    for column, header in enumerate(headers):
        page.write_string(0, column, _fitting(header), formats["head"])
    for number, row in enumerate(rows, 1):
        for column, cell in enumerate(row):
            _write_cell(page, number, column, cell, formats)
    book.close()
    return data.getvalue()


def _write_cell(page: Any, number: int, column: int, cell: Written, formats: dict[str, Any]) -> None:
    if number >= _LAST_ROW:
        raise Refusal("too-many-rows", "A workbook cannot hold so many rows: export CSV, or narrow the list.")
    if isinstance(cell, bool):
        page.write_string(number, column, "yes" if cell else "no")
    elif isinstance(cell, datetime):
        page.write_datetime(number, column, cell.replace(tzinfo=None), formats["time"])
    elif isinstance(cell, date):
        page.write_datetime(number, column, cell, formats["day"])
    elif isinstance(cell, str):
        page.write_string(number, column, _fitting(cell))
    elif cell is not None:
        page.write_number(number, column, cell)


def _fitting(text: str) -> str:
    if len(text) >= MAX_TEXT:
        raise Refusal("cell-too-long", f"A workbook cell cannot hold {len(text)} characters: export CSV.")
    return defuse(text)
