"""Small workbooks as hospitals and attackers make them."""

import io
import struct
import zipfile
from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Any

import xlsxwriter

SHARED = "xl/sharedStrings.xml"
SHEET = "xl/worksheets/sheet1.xml"
SPREADSHEET = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def workbook(*sheets: Sequence[Sequence[Any]], hidden: Sequence[int] = ()) -> bytes:
    """Sheets `one`, `two`, … of cells: text, numbers, dates, truth values, None."""
    data = io.BytesIO()
    book = xlsxwriter.Workbook(data, {"strings_to_formulas": False})
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    for place, rows in enumerate(sheets):
        page = book.add_worksheet(("one", "two", "three")[place])
        if place in hidden:
            page.hide()
        elif hidden:
            page.activate()
        for number, cells in enumerate(rows):
            for column, cell in enumerate(cells):
                if isinstance(cell, date):
                    page.write_datetime(number, column, _instant(cell), day)
                else:
                    page.write(number, column, cell)
    book.close()
    return data.getvalue()


def _instant(cell: date) -> datetime:
    return cell if isinstance(cell, datetime) else datetime(cell.year, cell.month, cell.day)


def altered(part: str, change: Callable[[bytes], bytes | None], *, book: bytes = b"") -> bytes:
    """A workbook, by default a sound one, with one part replaced, or left out where `change` gives None."""
    source = zipfile.ZipFile(io.BytesIO(book or workbook([["a", "b"], ["x", "y"]])))
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in source.namelist():
            content = change(source.read(name)) if name == part else source.read(name)
            if content is not None:
                archive.writestr(name, content)
    return data.getvalue()


def with_rows(rows: bytes) -> bytes:
    """A workbook whose sheet holds this XML of rows."""
    return altered(
        SHEET, lambda old: old[: old.index(b"<sheetData>")] + b"<sheetData>" + rows + b"</sheetData></worksheet>"
    )


def lying(book: bytes, part: str, size: int) -> bytes:
    """The same workbook with another size of an unpacked part in both places that name it (ZIP, 4.3.7 and 4.3.12)."""
    archive, data = zipfile.ZipFile(io.BytesIO(book)), bytearray(book)
    struct.pack_into("<I", data, archive.getinfo(part).header_offset + 22, size)
    named = data.rindex(part.encode())
    struct.pack_into("<I", data, named - 46 + 24, size)
    return bytes(data)
