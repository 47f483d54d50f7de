"""What a row says, which of its cells were filled, and what somebody decided about it."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from caseload.exchange.likeness import PersonKey
from caseload.exchange.operated import OperatedPatient, Problem, Severity, TheatreRow
from caseload.parsing import is_blank

NEW = "new"
SHAPE = 1
_IMPLIED = {
    "suture": ("material",), "material": ("suture",), "referral_received_on": ("for_therapy",), "risks": ("notes",),
    "name": ("given", "family"), "name_given_first": ("given", "family"), "name_family_first": ("given", "family"),
}  # fmt: skip
"""Field -> fields that its cell speaks for too."""


@dataclass(frozen=True, slots=True)
class Decision:
    """`person`: a patient's code, or NEW for somebody else; `operation`: an episode's code, or NEW for another one;
    `read`: take the row as it was read.
    """

    person: str = ""
    operation: str = ""
    read: bool = False

    @property
    def made(self) -> bool:
        return self != Decision()

    def as_json(self) -> dict[str, Any]:
        return {"shape": SHAPE} | asdict(self) if self.made else {}

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> "Decision":
        return cls(**{name: value for name, value in stored.items() if name != "shape"})


@dataclass(frozen=True, slots=True)
class Entry:
    """One row that could be read. `said` are the fields whose cells were filled; the others stand for empty cells."""

    number: int
    value: OperatedPatient
    key: PersonKey
    said: frozenset[str]
    problems: tuple[Problem, ...] = ()
    decision: Decision = Decision()

    def says(self, field: str) -> bool:
        return field in self.said and getattr(self.value, field) not in ("", None, (), "unknown")

    def as_json(self) -> dict[str, Any]:
        return {"shape": SHAPE, "said": sorted(self.said), "patient": self.value.as_json()}


def entry_of(row: TheatreRow, columns: Mapping[str, str]) -> Entry | None:
    """The row as an entry; None where it was refused."""
    if row.value is None:
        return None
    return Entry(row.number, row.value, row.value.key, _said(row.as_read, columns), row.problems)


def entry_from_json(number: int, stored: Mapping[str, Any], problems: list[Any], decision: Mapping[str, Any]) -> Entry:
    """The inverse of `Entry.as_json`, with what is stored beside it. Raises ValueError on another shape."""
    if stored["shape"] != SHAPE:
        raise ValueError(f"shape {stored['shape']} of an intake row is not known")
    value, said = OperatedPatient.from_json(stored["patient"]), frozenset(stored["said"])
    return Entry(number, value, value.key, said, problems_from_json(problems), Decision.from_json(decision))


def problems_as_json(problems: Iterable[Problem]) -> list[list[Any]]:
    return [[each.column, each.code, each.message, str(each.severity), each.other] for each in problems]


def problems_from_json(stored: list[Any]) -> tuple[Problem, ...]:
    return tuple(Problem(column, code, message, Severity(said), other) for column, code, message, said, other in stored)


def identity(key: PersonKey) -> str:
    """Stands for a person as a list names them, without the names: 128 bits of a hash."""
    born_on = key.born_on.isoformat() if key.born_on else ""
    named = json.dumps([key.given, key.family, born_on, sorted(key.numbers)])
    return hashlib.sha256(named.encode()).hexdigest()[:32]


def _said(as_read: Mapping[str, str], columns: Mapping[str, str]) -> frozenset[str]:
    filled = {field for field, header in columns.items() if not is_blank(as_read.get(header, ""))}
    return frozenset(filled.union(*(_IMPLIED.get(field, ()) for field in filled)))
