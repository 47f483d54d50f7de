"""One row of a theatre list, understood: the operated patient, and what is wrong or doubtful about the row."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from enum import StrEnum
from typing import Any, NamedTuple

from caseload.exchange.likeness import PersonKey, person_key
from caseload.parsing import Identifier, Phone, Priority, Risk, Scheme
from caseload.timetable.terms import Digit, Side, Suture, Technique

SHAPE = 1
"""Of `as_json`; raised when a field changes its meaning."""


class Severity(StrEnum):
    """`refused`: the row cannot be taken. `doubtful`: it can, once somebody has looked."""

    REFUSED = "refused"
    DOUBTFUL = "doubtful"


class Problem(NamedTuple):
    """`column` is the header in the file ("" if the row as a whole is meant); `message` names the remedy.

    `other` is the number of another row of the list that it is about.
    """

    column: str
    code: str
    message: str
    severity: Severity
    other: int | None = None


@dataclass(frozen=True, slots=True)
class OperatedPatient:
    """One row may give several operations, one for each digit, with one surgery date. Unknown text is ""."""

    given: str
    family: str
    born_on: date | None
    nhs_number: Identifier | None
    hospital_number: Identifier | None
    phone: Phone | None
    email: str
    surgery_on: date
    side: Side
    digits: tuple[Digit, ...]
    technique: Technique
    suture: Suture
    material: str
    stitches_in: int | None
    surgeon: str
    site: str
    raised_risk: bool
    risks: tuple[Risk, ...]
    for_therapy: bool
    priority: Priority
    referral_received_on: date | None
    language: str
    interpreter: bool
    notes: str

    @property
    def key(self) -> PersonKey:
        return person_key(self.given, self.family, self.born_on, (self.nhs_number, self.hospital_number))

    def as_json(self) -> dict[str, Any]:
        """Plain values for a JSON column: days in ISO form, numbers as `[normal, typed]`."""
        return {"shape": SHAPE} | {of.name: _plain(getattr(self, of.name)) for of in fields(self)}

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> "OperatedPatient":
        """The inverse of `as_json`. Raises ValueError on another shape."""
        if stored["shape"] != SHAPE:
            raise ValueError(f"shape {stored['shape']} of a theatre list row is not known")
        values = {name: value for name, value in stored.items() if name != "shape"}
        return cls(**values | {name: read(values[name]) for name, read in _READ.items() if values[name] is not None})


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Identifier):
        return [value.value, value.as_typed]
    if isinstance(value, tuple):
        return [str(part) for part in value]
    return str(value) if isinstance(value, str) else value


_READ: Mapping[str, Any] = {
    "born_on": date.fromisoformat,
    "surgery_on": date.fromisoformat,
    "referral_received_on": date.fromisoformat,
    "nhs_number": lambda pair: Identifier(Scheme.NHS, *pair),
    "hospital_number": lambda pair: Identifier(Scheme.HOSPITAL, *pair),
    "phone": lambda pair: Phone(*pair),
    "side": Side,
    "digits": lambda digits: tuple(Digit(digit) for digit in digits),
    "technique": Technique,
    "suture": Suture,
    "risks": lambda risks: tuple(Risk(risk) for risk in risks),
    "priority": Priority,
}


@dataclass(frozen=True, slots=True)
class TheatreRow:
    """`as_read`: header -> text, filled cells only. `value` is None where any problem refuses the row."""

    number: int
    as_read: Mapping[str, str]
    value: OperatedPatient | None
    problems: tuple[Problem, ...]

    @property
    def refused(self) -> bool:
        return self.value is None
