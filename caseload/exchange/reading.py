"""One row while it is being read: its cells by field, and the problems met on the way."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from typing import NamedTuple, Protocol, TypeVar, cast

from caseload.errors import Refusal
from caseload.exchange.cells import Cell
from caseload.exchange.date_order import DateOrder
from caseload.exchange.operated import Problem, Severity
from caseload.parsing import TypedDate, in_words, quoted

T = TypeVar("T")
V = TypeVar("V")
_UNREAD = object()


class DateReader(Protocol):
    def __call__(self, value: str | date, *, today: date, month_first: bool = False) -> TypedDate: ...


class Layout(NamedTuple):
    """What holds for all rows of a list: field -> header, field -> place, and the order of each column of dates.

    `known`: (field, cell) -> value; the same words come again and again, and each is read once.
    """

    columns: Mapping[str, str]
    places: Mapping[str, int]
    orders: Mapping[str, DateOrder]
    month_first: frozenset[str]
    today: date
    known: dict[tuple[str, object], object]


@dataclass(slots=True)
class Reading:
    """`filled`: field -> text of its cell, where it holds anything but a lone dash."""

    layout: Layout
    cells: tuple[Cell, ...]
    filled: Mapping[str, str]
    problems: list[Problem] = field(default_factory=list)

    def text(self, name: str) -> str:
        return self.filled.get(name, "")

    def take(self, name: str, read: Callable[[str], T], blank: V) -> T | V:
        """What the cell says, or `blank` where it is empty or was refused (and then a problem says so)."""
        text = self.filled.get(name)
        return blank if text is None else self.attempt(name, lambda: self.once(name, text, read), blank)

    def once(self, name: str, value: V, read: Callable[[V], T]) -> T:
        """What `read` makes of a value, remembered for the whole list under this name."""
        found = self.layout.known.get((name, value), _UNREAD)
        if found is _UNREAD:
            found = self.layout.known[name, value] = read(value)
        return cast(T, found)

    def attempt(self, name: str, read: Callable[[], T], otherwise: V) -> T | V:
        """What `read` gives; where it refuses, a problem says so, and it is `otherwise`."""
        try:
            return read()
        except Refusal as refusal:
            self.refuse(name, refusal.code, refusal.message)
            return otherwise

    def refuse(self, name: str, code: str, message: str) -> None:
        self.problems.append(Problem(self.layout.columns.get(name, ""), code, message, Severity.REFUSED))

    def doubt(self, name: str, code: str, message: str) -> None:
        self.problems.append(Problem(self.layout.columns.get(name, ""), code, message, Severity.DOUBTFUL))

    @property
    def refused(self) -> bool:
        return any(problem.severity is Severity.REFUSED for problem in self.problems)

    def take_date(self, name: str, read: DateReader) -> date | None:
        """A date of a column whose order may be settled; doubtful where it reads two ways and nothing settles it."""
        if not (text := self.text(name)):
            return None
        cell = self.cells[self.layout.places[name]]
        value = cell if isinstance(cell, date) else text
        today, stated = self.layout.today, name in self.layout.month_first
        reader = partial(read, today=today, month_first=stated)
        typed = self.attempt(name, lambda: self.once(name, value, reader), None)
        if typed is None:
            return None
        self._question(name, value, typed)
        return typed.on

    def _question(self, name: str, value: str | date, typed: TypedDate) -> None:
        order = self.layout.orders.get(name, DateOrder.UNSETTLED)
        if isinstance(value, date):
            if order is DateOrder.SWAPPED and value.day != value.month:
                self._doubt_swapped(name, value)
        elif typed.other_reading:
            self._doubt_order(name, quoted(value), order, typed.on, typed.other_reading)

    def _doubt_swapped(self, name: str, value: date) -> None:
        other = in_words(value.replace(month=value.day, day=value.month))
        why = "a spreadsheet seems to have read this column month first"
        self.doubt(name, "date-swapped", f"{in_words(value)} could be {other}, because {why}: confirm it.")

    def _doubt_order(self, name: str, shown: str, order: DateOrder, on: date, other: date) -> None:
        by_order = (on.month, on.day) == (other.day, other.month)
        if by_order and order is DateOrder.DAY_FIRST:
            return
        if by_order and order is DateOrder.MONTH_FIRST:
            remedy = "state that this column is month first, or export the list day first"
            self.refuse(name, "date-month-first-column", f"{shown} stands in a column written month first: {remedy}.")
            return
        both = f"read as {in_words(on)}, and could be {in_words(other)}"
        self.doubt(name, "date-reads-two-ways", f"{shown} is {both}: confirm it, or write the month in letters.")
