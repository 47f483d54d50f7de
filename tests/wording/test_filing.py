"""Filed months in words. The sentences are our own."""

from datetime import date
from math import inf

import pytest

from caseload.models import Staff
from caseload.waits.filed import Counted
from caseload.waits.restated import Line, Moved, Told
from caseload.waits.terms import Clock, End
from caseload.wording.filing import FIELDS, FIGURES, TARGETS, say_by, say_moves, say_recorded, say_value
from clinic import settings

WAIT = Counted(Clock.FIRST_VISIT, "r1", "first-visit", date(2026, 10, 1), End.WAITING)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (Line(Told.SEEN, 3, 5), "+2"),
        (Line(Told.COMPLETED_MEDIAN, 9.5, 8.0), "−1.5"),
        (Line(Told.WITHIN, 0.7, 0.732), "+3.2 points"),
        (Line(Told.WAITING, 4, 4), "0"),
        (Line(Told.COMPLETED_92, 14.54, 16.56), "+2.1"),
        (Line(Told.WITHIN, 0.17449, 0.17551), "+0.2 points"),
        (Line(Told.COMPLETED_92, 28.96, 29.04), "less than 0.1"),
        (Line(Told.MEDIAN, None, None), "–"),
        (Line(Told.MEDIAN, inf, inf), "–"),
        (Line(Told.MEDIAN, None, 7), "could not be said"),
        (Line(Told.MEDIAN, 7, None), "cannot be said now"),
        (Line(Told.CENTILE_92, inf, 40), "reached now"),
        (Line(Told.CENTILE_92, 40, inf), "not reached now"),
    ],
)
def test_how_far_a_figure_moved(line, words):
    assert say_by(line) == words


def test_a_figure_is_a_number_a_share_or_what_it_cannot_be():
    said = [say_value(Told.MEDIAN, 12), say_value(Told.WITHIN, 0.7407), say_value(Told.MEDIAN, inf)]
    assert said == ["12", "74.1 %", "not reached"]
    assert say_value(Told.MEDIAN, None) == "–"


def test_a_wait_that_is_new_gone_or_another_says_how():
    late = WAIT._replace(stopped_on=date(2026, 10, 9), ended=End.SEEN)
    assert say_moves(Moved(None, late), {}) == ["not known then: began Thu 1 Oct 2026, seen Fri 9 Oct 2026 (8 days)"]
    assert say_moves(Moved(WAIT, None), {}) == ["not in the record any more: began Thu 1 Oct 2026, still waiting"]
    assert say_moves(Moved(WAIT, late), {}) == ["state: still waiting → seen", "ended: – → Fri 9 Oct 2026"]


def test_what_a_wait_is_grouped_by_is_said_in_words():
    moved = Moved(WAIT._replace(site="s1", priority="urgent"), WAIT._replace(site="s2", suture="absorbable"))
    assert say_moves(moved, {"s1": "Fernhollow"}) == [
        "site: Fernhollow → s2", "stitches: – → absorbable stitches", "priority: urgent → –",
    ]  # fmt: skip


def test_who_recorded_it_is_said_as_a_role():
    both = Staff(is_therapist=True, is_lead=True)
    assert (
        say_recorded("finding recorded", "then", both) == "finding recorded on then by a lead therapist and therapist"
    )
    assert say_recorded("dates worked out again", "then", None) == "dates worked out again on then by the planner"


def test_everything_that_may_be_shown_has_a_word():
    assert set(FIGURES) == set(Told)
    assert set(Counted._fields) - set(FIELDS) == {"clock", "of", "key"}
    assert set(TARGETS) == set(settings.WAIT_TARGETS)
