"""Whether a column of dates is written day first or month first, from the dates in it that read only one way."""

import re
from collections.abc import Iterable
from datetime import date
from enum import StrEnum

from caseload.exchange.cells import Cell
from caseload.parsing.dates import both_readings


class DateOrder(StrEnum):
    """What the cells of one column say. `SWAPPED`: the days that were converted look as if read month first."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"
    BOTH = "both"
    UNSETTLED = "unsettled"
    SWAPPED = "swapped"


_DAY_MONTH = re.compile(r"\bd{1,2}\W?m{1,3}\b", re.IGNORECASE)
_MONTH_DAY = re.compile(r"\bm{1,3}\W?d{1,2}\b", re.IGNORECASE)


def find_order(header: str, cells: Iterable[Cell], *, today: date) -> DateOrder:
    """A header such as `Surgery date (dd/mm/yyyy)` counts as one more date.

    A spreadsheet that reads a day-first list month first turns 3/4 into 4 March and leaves 20/3 as text. So a column
    whose text dates all have a day past 12, beside date cells that all have a day up to 12, is `SWAPPED`.
    """
    texts, days = _parted(cells)
    only_day = bool(_DAY_MONTH.search(header))
    only_month = bool(_MONTH_DAY.search(header))
    either = False
    for text in texts:
        readings = both_readings(text, today=today)
        if readings and readings.day_first != readings.month_first:
            only_day |= readings.month_first is None
            only_month |= readings.day_first is None
            either |= None not in readings
    if only_day and not only_month and not either and days and all(day.day <= 12 for day in days):
        return DateOrder.SWAPPED
    return _order(only_day, only_month)


def _parted(cells: Iterable[Cell]) -> tuple[set[str], set[date]]:
    texts, days = set[str](), set[date]()
    for cell in cells:
        if isinstance(cell, str):
            texts.add(cell)
        elif isinstance(cell, date):
            days.add(cell)
    return texts, days


def _order(only_day: bool, only_month: bool) -> DateOrder:
    if only_day and only_month:
        return DateOrder.BOTH
    if only_day:
        return DateOrder.DAY_FIRST
    return DateOrder.MONTH_FIRST if only_month else DateOrder.UNSETTLED
