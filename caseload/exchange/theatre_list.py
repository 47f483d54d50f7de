"""A theatre list: a table read into operated patients, row by row, with what is wrong or doubtful about each.

Nothing is known here of patients already on record; `likeness` compares with those.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from caseload.errors import Refusal
from caseload.exchange.date_order import DateOrder, find_order
from caseload.exchange.headers import match_headers, refuse_unmatched
from caseload.exchange.operated import TheatreRow
from caseload.exchange.reading import Layout
from caseload.exchange.repeats import mark_repeats
from caseload.exchange.table import Table
from caseload.exchange.theatre_row import read_row

DATE_FIELDS = ("born_on", "surgery_on", "referral_received_on")


@dataclass(frozen=True, slots=True)
class TheatreList:
    """`columns`: field -> header as matched (remember it for the source). `unused`: headers that were not read.

    `orders`: for each column of dates, what its dates say about day and month.
    """

    columns: Mapping[str, str]
    rows: tuple[TheatreRow, ...]
    unused: tuple[str, ...]
    orders: Mapping[str, DateOrder]


def read_theatre_list(
    table: Table, *, today: date, columns: Mapping[str, str] | None = None, month_first: Collection[str] = ()
) -> TheatreList:
    """Read every row. `columns`: field -> header, as remembered or chosen; `month_first`: date fields stated to be so.

    Raises Refusal `headers-missing`, `headers-doubled`, `columns-unknown`; what is wrong with a row stays with the row.
    """
    if not set(month_first) <= set(DATE_FIELDS):
        raise Refusal("columns-unknown", f"Only dates can be month first: choose among {', '.join(DATE_FIELDS)}.")
    match = match_headers(table.headers, columns)
    refuse_unmatched(match)
    places = {field: table.headers.index(header) for field, header in match.columns.items()}
    orders = {field: _order(table, places[field], today) for field in DATE_FIELDS if field in places}
    layout = Layout(match.columns, places, orders, frozenset(month_first), today, {})
    rows = mark_repeats([read_row(row, table.headers, layout) for row in table.rows])
    return TheatreList(match.columns, rows, match.unused, orders)


def _order(table: Table, place: int, today: date) -> DateOrder:
    return find_order(table.headers[place], (row.cells[place] for row in table.rows), today=today)
