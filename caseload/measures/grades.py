"""Grades of triggering on the two usual scales.

Decides which grades each scale has, and whether one grade is worse than another.

- Green: I pain or tenderness at the A1 pulley; II catching; III locking that can be corrected passively; IV fixed
  (orthofixar.com). IIIA cannot be straightened, IIIB cannot be bent, actively (from memory).
- Quinnell: 0 normal; 1 uneven; 2 actively correctable; 3 passively correctable; 4 fixed (from memory).

Assumes that III, IIIA and IIIB are one level: the letter says which way the finger is stuck, not how badly. The two
scales do not share their numbers: Green II catches and frees itself, as Quinnell 2 does; Green I has no locking at
all, and Quinnell 1 is uneven. Two grades compare only on the same scale.
"""

from collections.abc import Mapping
from typing import Final

from caseload.measures.bodies import Trigger
from caseload.measures.terms import TriggerScale

LEVELS: Final[Mapping[TriggerScale, Mapping[str, int]]] = {
    TriggerScale.GREEN: {"I": 1, "II": 2, "III": 3, "IIIA": 3, "IIIB": 3, "IV": 4},
    TriggerScale.QUINNELL: {"0": 0, "1": 1, "2": 2, "3": 3, "4": 4},
}
"""The grades of each scale from the mildest, with their levels."""


def grades_of(scale: TriggerScale) -> tuple[str, ...]:
    return tuple(LEVELS[scale])


def is_grade(trigger: Trigger) -> bool:
    """Whether the scale has that grade."""
    return trigger.grade in LEVELS[trigger.scale]
