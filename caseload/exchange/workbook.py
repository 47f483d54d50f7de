"""XLSX workbooks: looked over before they are unpacked, then read in a child process that may use little and not last.

The library that reads them is fast and native; a hostile file must not be able to take the web process with it.
"""

import io
import json
import subprocess
import sys
import zipfile
from datetime import date
from typing import NamedTuple

import caseload
from caseload.errors import Refusal
from caseload.exchange.cells import MAX_COLUMNS, MAX_ROWS, MAX_TEXT, MAX_UNPACKED, Cell

_HOME = f"{caseload.__path__[0]}/.."
_CHILD = (sys.executable, "-m", "caseload.exchange.xlsx_child")
TIMEOUT = 30
"""Seconds by the wall clock; the child's own limit on processor time is lower."""
MAX_PARTS = 2_000
_REMEDY = "open it in a spreadsheet, save it as a new workbook or as CSV, and upload that"


class Sheet(NamedTuple):
    """The first sheet that holds something; row numbers from 1."""

    rows: list[tuple[int, list[Cell]]]
    others: tuple[str, ...]


def read_workbook(data: bytes) -> Sheet:
    """Raises Refusal `workbook-…` where the file is at fault, `too-many-…` or `cell-too-long` where the list is."""
    check_parts(data)
    answer = json.loads(_run_child(data))
    if "refused" in answer:
        raise refused_list(answer["refused"])
    return Sheet(
        [(number, [_cell(cell) for cell in cells]) for number, cells in answer["rows"]], tuple(answer["others"])
    )


def check_parts(data: bytes) -> None:
    """Reads only the directory of the archive: nothing is unpacked before its size is known to be small."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError, UnicodeDecodeError):
        raise Refusal("workbook-unreadable", f"This workbook is damaged: {_REMEDY}.") from None
    if len(parts) > MAX_PARTS or sum(part.file_size for part in parts) > MAX_UNPACKED:
        limit = MAX_UNPACKED // (1024 * 1024)
        raise Refusal(
            "workbook-too-big",
            f"Unpacked, this workbook is larger than {limit} MB: split the list and upload the parts.",
        )
    if "xl/workbook.xml" not in {part.filename for part in parts}:
        raise Refusal("workbook-unreadable", f"This is an archive, but not an XLSX workbook: {_REMEDY}.")


def _run_child(data: bytes) -> bytes:
    try:
        done = subprocess.run(_CHILD, input=data, capture_output=True, cwd=_HOME, timeout=TIMEOUT, check=True)
    except subprocess.TimeoutExpired:
        raise Refusal("workbook-too-slow", f"This workbook takes too long to read: {_REMEDY}.") from None
    except subprocess.CalledProcessError:
        raise Refusal("workbook-unreadable", f"This workbook cannot be read: {_REMEDY}.") from None
    return done.stdout


def refused_list(code: str) -> Refusal:
    """The refusal of a list that can be opened and still not be taken, in whatever kind of file it came."""
    messages = {
        "too-many-rows": f"The list has more than {MAX_ROWS} rows: split it and upload the parts.",
        "too-many-columns": f"The list has more than {MAX_COLUMNS} columns: remove those not needed.",
        "workbook-empty": "No sheet of this workbook holds a filled cell: check that the list was saved in it.",
        "cell-too-long": f"A cell holds more than {MAX_TEXT} characters: shorten it.",
        "workbook-too-big": "This workbook holds too much: split the list and upload the parts.",
    }
    return Refusal(code, messages[code])


def _cell(cell: str | float | list[str] | None) -> Cell:
    return date.fromisoformat(cell[0]) if isinstance(cell, list) else cell
