"""A row of cells read into an operated patient: each cell by its reader, then what the cells say together."""

import re
from collections.abc import Iterable

from caseload.exchange.cells import cell_text
from caseload.exchange.operated import OperatedPatient, TheatreRow
from caseload.exchange.reading import Layout, Reading
from caseload.exchange.table import BEYOND, Row
from caseload.exchange.theatre_operation import read_operation
from caseload.exchange.theatre_person import read_person
from caseload.exchange.theatre_therapy import read_therapy
from caseload.parsing import is_blank, quoted, refuse_born_after

_UNSTORABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def read_row(row: Row, headers: tuple[str, ...], layout: Layout) -> TheatreRow:
    """Never raises Refusal: every refusal of a cell becomes a problem of the row."""
    texts = {name: cell_text(row.cells[place]) for name, place in layout.places.items()}
    reading = Reading(layout, row.cells, {name: text for name, text in texts.items() if not is_blank(text)})
    said = as_read(row, headers)
    _refuse_shifted(reading, said)
    value = _read_patient(reading)
    return TheatreRow(row.number, said, value, tuple(reading.problems))


def as_read(row: Row, headers: tuple[str, ...]) -> dict[str, str]:
    """Header -> text of the filled cells, those to the right of the last header included; fit to be stored."""
    return _named(headers, map(cell_text, row.cells)) | _beyond(row)


def _named(headers: Iterable[str], texts: Iterable[str]) -> dict[str, str]:
    named = zip(headers, texts, strict=True)
    return {header: text if text.isprintable() else _UNSTORABLE.sub("\ufffd", text) for header, text in named if text}


def _beyond(row: Row) -> dict[str, str]:
    places = range(len(row.cells) + 1, len(row.cells) + len(row.beyond) + 1)
    return _named((f"{BEYOND} {place}" for place in places), map(cell_text, row.beyond))


def _refuse_shifted(reading: Reading, said: dict[str, str]) -> None:
    """Cells to the right of the last header: most often a separator that was not put in quotes has shifted the row."""
    extra = next((text for header, text in said.items() if header.startswith(BEYOND)), None)
    if extra is not None:
        why = f"{quoted(extra)} stands to the right of the last column, so cells before it may be shifted"
        reading.refuse("", "row-too-wide", f"{why}: put the cell with the extra separator in quotes.")


def _read_patient(reading: Reading) -> OperatedPatient | None:
    person, operation, therapy = read_person(reading), read_operation(reading), read_therapy(reading)
    if person.born_on and operation.surgery_on:
        born_on, surgery_on = person.born_on, operation.surgery_on
        reading.attempt("born_on", lambda: refuse_born_after(born_on, surgery_on), None)
    if reading.refused:
        return None
    return OperatedPatient(**person._asdict(), **operation._asdict(), **therapy._asdict())
