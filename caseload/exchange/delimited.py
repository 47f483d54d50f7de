"""Text files of rows: which encoding, which delimiter, and the cells."""

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from typing import TYPE_CHECKING

from caseload.errors import Refusal
from caseload.exchange.cells import MAX_TEXT, Cell

if TYPE_CHECKING:
    from _csv import Reader

DELIMITERS = (",", ";", "\t")
_SAMPLE = 50
"""Rows by which the delimiter is told."""
_REMEDY = "export the list again as CSV in UTF-8, or as an XLSX workbook"
_CONTROL = re.compile(r"[\x01-\x08\x0b\x0e-\x1f\x7f]")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def read_delimited(data: bytes) -> Iterator[tuple[int, list[Cell]]]:
    """Row numbers from 1 and their cells. Raises Refusal `encoding`, `nul-bytes`, `not-text`, `csv-broken`."""
    text = decode(data)
    delimiter = find_delimiter(text)
    number = 0
    try:
        for number, cells in enumerate(_reader(_lines(text), delimiter), 1):
            yield number, list(cells)
    except csv.Error as error:
        raise _broken(error, number + 1) from None


def read_lines(data: bytes) -> Iterator[tuple[int, list[str] | str]]:
    """The number of the line on which a row begins, from 1, and its cells. Of a line that cannot be taken apart, why it
    cannot; reading goes on with the line after it. Raises Refusal `encoding`, `nul-bytes`, `not-text`."""
    lines = list(_lines(decode(data)))
    # By the first line that holds anything: it names the columns; a quote left open further down breaks only itself.
    delimiter = find_delimiter(next((line for line in lines if line.strip()), ""))
    begun = 0
    while begun < len(lines):
        start = begun
        reader = _reader(map(lines.__getitem__, range(start, len(lines))), delimiter)
        try:
            for cells in reader:
                yield begun + 1, cells
                begun = start + reader.line_num
        except csv.Error as error:
            begun += 1
            yield begun, _why(error)


def decode(data: bytes) -> str:
    """By byte order mark, else UTF-8, else Windows-1252."""
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            return _clean(_decode(data[len(bom) :], (encoding,)))
    return _clean(_decode(data, ("utf-8", "cp1252")))


def _decode(data: bytes, encodings: tuple[str, ...]) -> str:
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise Refusal("encoding", f"The letters of this file cannot be read: {_REMEDY}.")


def _clean(text: str) -> str:
    if "\0" in text:
        raise Refusal("nul-bytes", f"The file holds zero bytes, which no list has: {_REMEDY}.")
    if _CONTROL.search(text):
        raise Refusal("not-text", "The file holds control characters, so it is not a list: upload CSV or XLSX.")
    return text


def find_delimiter(text: str) -> str:
    """The delimiter under which the first rows parse without fault, then agree on the most columns."""
    return max(DELIMITERS, key=lambda delimiter: _fit(text, delimiter))


def _fit(text: str, delimiter: str) -> tuple[bool, int]:
    widths: Counter[int] = Counter()
    sound = True
    try:
        for cells in islice(_reader(_lines(text), delimiter), _SAMPLE):
            widths[len(cells)] += len(cells) > 1
    except csv.Error:
        sound = False
    return sound, max((width * count for width, count in widths.items()), default=0)


def _lines(text: str) -> Iterator[str]:
    return io.StringIO(text, newline="")


def _reader(lines: Iterator[str], delimiter: str) -> "Reader":
    csv.field_size_limit(MAX_TEXT)
    return csv.reader(lines, delimiter=delimiter, strict=True)


def _broken(error: csv.Error, number: int) -> Refusal:
    wrong = f"Row {number} of the file cannot be taken apart: {_why(error)}."
    return Refusal("csv-broken", f"{wrong} Mend it, or export the list as an XLSX workbook.", row=number)


def _why(error: csv.Error) -> str:
    if "field larger" in str(error):
        return f"a cell is longer than {MAX_TEXT} characters, which points to a quote that is never closed"
    if "unexpected end" in str(error):
        return "a quote is opened and never closed"
    return "a quote inside a cell is not doubled"
