"""Trigger grades are those of their own scale only, so that none is taken for one of the other."""

import pytest

from caseload.measures.bodies import Trigger
from caseload.measures.grades import grades_of, is_grade
from caseload.measures.terms import TriggerScale

GREEN, QUINNELL = TriggerScale


@pytest.mark.parametrize(("green", "quinnell"), [(g, q) for g in grades_of(GREEN) for q in grades_of(QUINNELL)])
def test_no_grade_is_one_of_the_other_scale_too(green, quinnell):
    assert not is_grade(Trigger(GREEN, quinnell)) and not is_grade(Trigger(QUINNELL, green))
