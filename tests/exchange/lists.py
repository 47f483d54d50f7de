"""Theatre lists for tests: the ones in fixtures, and small ones written in place. Today is Wed 1 Apr 2026."""

from datetime import date
from pathlib import Path

from caseload.exchange.operated import OperatedPatient, Severity, TheatreRow
from caseload.exchange.table import Row, Table, read_table
from caseload.exchange.theatre_list import TheatreList, read_theatre_list

TODAY = date(2026, 4, 1)
FIXTURES = Path(__file__).parents[2] / "fixtures" / "theatre_lists"
SOUND = {
    "Surname": "Ashdown",
    "First name": "Marian",
    "Date of birth": "14/6/1957",
    "NHS number": "999 000 0018",
    "Surgery date": "20/3/2026",
    "Side": "right",
    "Digit": "ring",
}
OTHER = SOUND | {
    "Surname": "Brackley",
    "First name": "Desmond",
    "Date of birth": "21/11/1949",
    "NHS number": "9990000026",
}


def fixture(name: str) -> TheatreList:
    return read_theatre_list(read_table((FIXTURES / name).read_bytes()), today=TODAY)


def table(*rows: dict[str, object]) -> Table:
    headers = tuple(dict.fromkeys(header for row in rows for header in row))
    return Table(headers, tuple(Row(n, tuple(row.get(header) for header in headers)) for n, row in enumerate(rows, 2)))


def rows_of(*rows: dict[str, object], **named: object) -> tuple[TheatreRow, ...]:
    return read_theatre_list(table(*rows), today=TODAY, **named).rows


def row_of(**cells: object) -> TheatreRow:
    """The sound row with these cells instead, its headers written with `_` for a space."""
    return rows_of(SOUND | {header.replace("_", " "): cell for header, cell in cells.items()})[0]


def value_of(**cells: object) -> OperatedPatient:
    value = row_of(**cells).value
    assert value is not None
    return value


def codes(row: TheatreRow, severity: Severity | None = None) -> list[tuple[str, str]]:
    return [(p.column, p.code) for p in row.problems if severity in (None, p.severity)]
