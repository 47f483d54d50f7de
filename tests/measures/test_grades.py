"""Trigger grades compare on their own scale only."""

import pytest

from caseload.measures.bodies import Trigger
from caseload.measures.grades import grades_of, is_grade, worse_by
from caseload.measures.terms import TriggerScale

GREEN, QUINNELL = TriggerScale


@pytest.mark.parametrize(
    ("scale", "grade", "than", "levels"),
    [
        (GREEN, "III", "I", 2), (GREEN, "I", "IV", -3), (GREEN, "IIIA", "IIIB", 0), (GREEN, "III", "IIIA", 0),
        (QUINNELL, "4", "0", 4), (QUINNELL, "2", "2", 0),
    ],
)  # fmt: skip
def test_a_grade_is_worse_by_levels_of_its_scale(scale, grade, than, levels):
    assert worse_by(Trigger(scale, grade), Trigger(scale, than)) == levels


@pytest.mark.parametrize(("green", "quinnell"), [(g, q) for g in grades_of(GREEN) for q in grades_of(QUINNELL)])
def test_grades_of_two_scales_never_compare(green, quinnell):
    assert worse_by(Trigger(GREEN, green), Trigger(QUINNELL, quinnell)) is None
    assert not is_grade(Trigger(GREEN, quinnell)) and not is_grade(Trigger(QUINNELL, green))
