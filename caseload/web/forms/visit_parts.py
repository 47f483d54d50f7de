"""The form of a visit as its page shows it: the fields of one digit by their own names, tables, and what is wrong."""

from collections.abc import Sequence
from typing import NamedTuple

from django.forms.boundfield import BoundField

from caseload.measures.motion import joints_of
from caseload.measures.terms import Joint, MeasureKind
from caseload.reads.examining import Subject
from caseload.reads.particulars import warnings_of
from caseload.timetable.terms import Digit
from caseload.wording import label
from caseload.wording.record import say_hand


class Wrong(NamedTuple):
    """What is wrong with a field, with the id of the field to go to; that is empty for the form as a whole."""

    anchor: str
    label: str
    sentence: str


class Row(NamedTuple):
    """A row of a table of fields."""

    heading: str
    fields: list[BoundField]


class Part(NamedTuple):
    """One digit: what is measured of it, why its grip is not to be tried yet, and its fields by their names without the
    prefix.
    """

    subject: Subject
    prefix: str
    kinds: Sequence[MeasureKind]
    grip_waits: str
    field: dict[str, BoundField]

    @property
    def hand(self) -> str:
        return say_hand(self.subject.episode)

    def warnings(self) -> list[str]:
        return warnings_of(self.subject.episode, ())

    def motion(self) -> list[Row]:
        return self._joints("")

    def other_motion(self) -> list[Row]:
        return self._joints("other_")

    def _joints(self, whose: str) -> list[Row]:
        digit = self.subject.episode.digit
        joints: Sequence[Joint] = joints_of(Digit(digit)) if digit else ()
        return [
            Row(label(joint), [self.field[f"{whose}{joint}_{part}"] for part in ("flexion", "deficit")])
            for joint in joints
        ]

    def grip(self) -> list[Row]:
        if MeasureKind.GRIP not in self.kinds:
            return []
        sides = (("this", "grip"), ("other", "grip_other"))
        return [Row(heading, [self.field[f"{name}_{place}"] for place in (1, 2, 3)]) for heading, name in sides]

    def has_antibiotic(self) -> bool:
        return any(filled(self.field[name]) for name in ("antibiotic", "antibiotic_from", "antibiotic_until"))

    def has_other(self) -> bool:
        """Whether anything of the other hand's motion is typed or wrong, so that it is not folded away."""
        return any(filled(each) for row in self.other_motion() for each in row.fields)


def filled(bound: BoundField) -> bool:
    return bool(bound.errors) or bound.value() not in (None, "")
