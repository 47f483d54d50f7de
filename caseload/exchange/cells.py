"""Cells of a table, the limits of a file, and how text is kept from becoming a formula."""

import re
from datetime import date, datetime

Cell = str | date | float | None
"""As read: text, a day, a number, or nothing."""
Written = str | date | datetime | float | bool | None
"""As written; `int` counts as `float`."""

MAX_BYTES = 10 * 1024 * 1024
MAX_UNPACKED = 100 * 1024 * 1024
MAX_ROWS = 50_000
MAX_COLUMNS = 200
MAX_TEXT = 32_767
"""Characters in one cell, as spreadsheets limit it."""

_LIVE = re.compile(r"'*(?:[\t\r\n]|\s*[=+\-@\uff1d\uff0b\uff0d\uff20])")


def cell_text(cell: Cell) -> str:
    """A cell as text: days in ISO form, whole numbers without a point, nothing as ""."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, date):
        return cell.isoformat()
    return str(int(cell)) if cell.is_integer() else repr(cell)


def defuse(text: str) -> str:
    """Text that a spreadsheet would run as a formula gets an apostrophe in front; all other text stays as it is."""
    return f"'{text}" if _LIVE.match(text) else text


def undefuse(text: str) -> str:
    """Takes away what `defuse` put in front: `undefuse(defuse(text)) == text` for every text."""
    return text[1:] if text.startswith("'") and _LIVE.match(text) else text
