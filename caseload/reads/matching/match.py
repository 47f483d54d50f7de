"""What the record says to a row: whose it is, what it makes or changes, what is in doubt, and what may be chosen."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from caseload.exchange.operated import Problem
from caseload.models import Verdict
from caseload.reads.matching.entry import problems_as_json, problems_from_json

SHAPE = 1
Facts = dict[str, Any]


class Change(NamedTuple):
    """A field and what it was and becomes, in words."""

    field: str
    was: str
    now: str


class Note(NamedTuple):
    """Something worth seeing beside a cell, which keeps nothing from being taken in."""

    column: str
    message: str


@dataclass(frozen=True, slots=True)
class OperationMatch:
    """One digit of a row. `episode` is the code of the one it meets, "" where it opens a new one.

    `facts` and `referral` are the values to be set; they are worked out anew each time and not stored.
    """

    digit: str
    episode: str = ""
    changes: tuple[Change, ...] = ()
    facts: Facts = field(default_factory=dict, compare=False)
    referral: Facts = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class Match:
    """`patient` is a code, or "" for a new one, whom all rows with the same `new_of` share (their first row's number).

    `people` and `episodes` are the codes among which somebody may choose, with NEW where that is allowed.
    """

    verdict: Verdict
    outcome: Verdict | None = None
    patient: str = ""
    new_of: int | None = None
    person: tuple[Change, ...] = ()
    operations: tuple[OperationMatch, ...] = ()
    remarks: tuple[Problem, ...] = ()
    notes: tuple[Note, ...] = ()
    people: tuple[str, ...] = ()
    episodes: tuple[str, ...] = ()
    person_facts: Facts = field(default_factory=dict, compare=False)
    numbers: Facts = field(default_factory=dict, compare=False)

    @property
    def effect(self) -> tuple[object, ...]:
        """What taking the row would do: two matches of the same effect differ at most in their remarks."""
        return self.outcome, self.patient, self.new_of, self.person, self.operations

    def as_json(self) -> dict[str, Any]:
        return {
            "shape": SHAPE,
            "patient": self.patient,
            "new_of": self.new_of,
            "person": [list(change) for change in self.person],
            "operations": [[each.digit, each.episode, [list(one) for one in each.changes]] for each in self.operations],
            "remarks": problems_as_json(self.remarks),
            "notes": [list(note) for note in self.notes],
            "people": list(self.people),
            "episodes": list(self.episodes),
        }


def match_from_json(verdict: str, outcome: str, stored: Mapping[str, Any]) -> Match:
    """What was stored of a match; without the values to be set. Raises ValueError on another shape."""
    if not stored:
        return Match(Verdict(verdict))
    if stored["shape"] != SHAPE:
        raise ValueError(f"shape {stored['shape']} of a match is not known")
    return Match(
        verdict=Verdict(verdict),
        outcome=Verdict(outcome) if outcome else None,
        patient=stored["patient"],
        new_of=stored["new_of"],
        person=_changes(stored["person"]),
        operations=tuple(
            OperationMatch(digit, episode, _changes(changes)) for digit, episode, changes in stored["operations"]
        ),
        remarks=problems_from_json(stored["remarks"]),
        notes=tuple(Note(*note) for note in stored["notes"]),
        people=tuple(stored["people"]),
        episodes=tuple(stored["episodes"]),
    )


def _changes(stored: list[Any]) -> tuple[Change, ...]:
    return tuple(Change(*change) for change in stored)
