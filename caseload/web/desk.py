"""One look at the booking list: who looks, what was asked for, the list in order, and who has which row open.

Of the list only the order is read, since it may be thousands; rows are read where they are shown or named.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.http import HttpRequest

from caseload.actions.act import By
from caseload.actions.working import open_row
from caseload.models import WorkedOn
from caseload.reads import to_book
from caseload.reads.names import Names, names
from caseload.reads.to_book import Row
from caseload.reads.to_book_details import Detail, details
from caseload.reads.to_book_order import Order, Ranked
from caseload.web.clock import staff_of
from caseload.web.forms.to_book import ToBookFilters
from caseload.web.paging import read_paging
from caseload.web.rows import Teller
from caseload.web.to_book_rows import Marked, ToBookTable, to_book_row


@dataclass
class Desk:
    """`asked` is the query of the address without the row; `details` are those of the page that was turned to."""

    by: By
    asked: dict[str, str]
    known: Names
    filters: ToBookFilters
    order: Order
    open_rows: dict[int, WorkedOn]
    known_rows: dict[int, Row] = field(default_factory=dict)
    details: dict[int, Detail] = field(default_factory=dict)

    def find(self, name: str) -> Ranked | None:
        """The place of the row of this name, if it is on the list."""
        return self.order.find(to_book.key_of(name)) if name else None

    def row(self, chosen: Ranked) -> Row:
        if chosen.id not in self.known_rows:
            self._read([chosen])
        return self.known_rows[chosen.id]

    def _read(self, chosen: Iterable[Ranked]) -> None:
        missing = [each for each in dict.fromkeys(chosen) if each.id not in self.known_rows]
        self.known_rows |= {row.id: row for row in to_book.read(missing)}

    def place(self, row: Row | Ranked) -> int:
        place = self.order.place(row.id)
        assert place is not None, "only rows of the list have a place"
        return place

    def first_of_page(self) -> int:
        return read_paging(self.asked, len(self.order)).start

    def open_next(self, start: int, but: int = 0) -> Ranked | None:
        """Open the first row from `start` on, around the end, that nobody else has open; `but` is a patient to pass.

        If others have all of them open, the first is shown all the same: that is said on it.
        """
        return self._open(row for row in self.order.around(start) if row.patient_id != but) or self._open(
            self.order.around(start)
        )

    def _open(self, rows: Iterable[Ranked]) -> Ranked | None:
        first = None
        for row in rows:
            if self._is_free(row) and open_row(row.patient_id, by=self.by):
                return row
            first = first or row
        return first

    def _is_free(self, row: Ranked) -> bool:
        held = self.open_rows.get(row.patient_id)
        return held is None or held.by_id == self.by.person.pk

    def beside(self, row: Row | Ranked, step: int) -> Row | None:
        """The row before (-1) or after (1)."""
        place = self.place(row) + step
        return self.row(self.order[place]) if 0 <= place < len(self.order) else None

    def table(self, chosen: Ranked | None) -> ToBookTable:
        """The page of the list that was asked for, else the one that the chosen row is on."""
        table = ToBookTable(self.asked, self.by.today, self.known)
        paging = read_paging(self.asked, len(self.order))
        place = self.place(chosen) if chosen else 0
        if chosen and "page" not in self.asked:
            paging = paging._replace(page=place // paging.size + 1)
        on_page = self.order[paging.start : paging.stop]
        self._read([*on_page, *self.order[max(0, place - 1) : place + 2]])
        shown = [self.row(each) for each in on_page]
        self.details = details(shown, self.by.at)
        asked = {name: value for name, value in self.asked.items() if name != "page"}
        reader, name = self.by.person.pk, self.row(chosen).name if chosen else ""
        marked = Marked(asked, reader, name, self.details, self.open_rows)
        tell = Teller(self.by.today, self.known)
        table.fill((to_book_row(row, marked, tell) for row in shown), paging)
        return table


def desk_of(request: HttpRequest, by: By) -> Desk:
    known = names()
    filters = ToBookFilters(request.GET.dict(), names=known, staff=staff_of(request))
    asked = {name: value for name, value in request.GET.dict().items() if name != "row"}
    return Desk(by, asked, known, filters, to_book.ranked(filters.asked(), by.today, by), to_book.open_rows(by.at))
