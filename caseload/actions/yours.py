"""At the door of an act: whoever reaches only their own patients touches no other.

Acts do not call this. The outermost act asks twice: of the patients of the rows it was given before it begins, so that
no act makes somebody's own what was not; and at its end of whomever it touched besides, by the entries of the trail.
A patient added within it is everybody's, so whoever adds one may go on. What is refused is undone with all of the act.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from typing import Any

from caseload.access import Act
from caseload.access.objects import WITHOUT_A_REASON
from caseload.errors import Refusal
from caseload.models import Patient, Staff
from caseload.reads.reach import sees_all, unreached

NOT_YOURS = "not-yours"
_met: ContextVar[set[int] | None] = ContextVar("met", default=None)
"""The patients whom the outermost act has touched so far."""


@contextmanager
def only_yours(name: Act, rows: Iterable[object], staff: Staff | None, at: datetime) -> Iterator[None]:
    """Raises Refusal `not-yours`, which carries the key of the patient. Within another act, that one asks."""
    if _met.get() is not None:
        yield
        return
    asks = not sees_all(staff) and name not in WITHOUT_A_REASON
    given, met = (patients_of(rows) if asks else set()), set[int]()
    token = _met.set(met)
    try:
        if asks:
            _demand(staff, given, at)
        yield
        if asks:
            _demand(staff, met - given, at)
    finally:
        _met.reset(token)


def meet(patient: int | None) -> None:
    """An act has written something of a patient."""
    met = _met.get()
    if met is not None and patient is not None:
        met.add(patient)


def not_yours(patient: int) -> Refusal:
    said = "This is a patient of a colleague. Open the record with a reason first."
    return Refusal(NOT_YOURS, said, patient=patient)


def patients_of(rows: Iterable[object]) -> set[int]:
    """The patients, by key, whom the arguments of an act are about; lists are looked into."""
    found: set[int] = set()
    for row in rows:
        if isinstance(row, list | tuple):
            found |= patients_of(row)
        elif (key := _patient_of(row)) is not None:
            found.add(key)
    return found


def _patient_of(row: Any) -> int | None:
    if isinstance(row, Patient):
        return row.pk
    if getattr(row, "patient_id", None) is not None:
        return int(row.patient_id)
    # A row or a value about an episode, such as a finding, or one digit of a visit.
    about = getattr(row, "episode", None)
    return int(about.patient_id) if about is not None else None


def _demand(staff: Staff | None, patients: set[int], at: datetime) -> None:
    if others := unreached(staff, patients, at):
        raise not_yours(min(others))
