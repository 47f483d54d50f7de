"""Usable days: the open days on which a session offers that kind of visit. Common practice."""

from dataclasses import replace
from datetime import date

import pytest

from caseload.timetable.calendar import Closed, SessionDays
from caseload.timetable.regions import open_days
from caseload.timetable.terms import FollowUpKind, Headline
from caseload.timetable.windows import pressing_on
from tests.timetable.builders import ENGLAND, REGIONS, SURGERY, about, after, day, episode, plan, the

STITCHES, REVIEW = FollowUpKind.STITCHES_OUT, FollowUpKind.OUTCOME_REVIEW
EVERY: frozenset[FollowUpKind] = frozenset()
KNOWN = (after(-60), after(90))
FIRST, LAST = after(12), after(16)
"""Surgery on a Tuesday: the window runs from Sunday, day 12, to Thursday, day 16."""


def held(*days: date, known=KNOWN, kinds=EVERY):
    return replace(ENGLAND, sessions=SessionDays(*known, dict.fromkeys(days, kinds)))


def presses_on(calendar, kind=STITCHES) -> date | None:
    return pressing_on(calendar, kind, FIRST, LAST)


def test_without_sessions_every_open_day_is_usable():
    assert ENGLAND.usable_days(STITCHES, FIRST, LAST) == ENGLAND.open_days(FIRST, LAST)
    assert presses_on(ENGLAND) == after(15)


def test_only_days_with_a_session_are_usable():
    calendar = held(after(13), after(14), after(16))
    assert calendar.usable_days(STITCHES, FIRST, LAST) == (after(13), after(14), after(16))
    assert presses_on(calendar) == after(14)


def test_two_session_days_or_none_press_from_the_anchor():
    for calendar in (held(after(13), after(14)), held()):
        assert presses_on(calendar) is None
        found = about(plan(episode(), calendar=calendar), Headline.VISIT_UNBOOKED, "stitches-out")
        assert found.from_on == SURGERY


def test_a_session_that_offers_other_kinds_makes_no_day_usable():
    days = (after(13), after(14), after(15), after(16))
    assert presses_on(held(*days, kinds=frozenset({REVIEW}))) is None
    assert presses_on(held(*days, kinds=frozenset({STITCHES, REVIEW}))) == after(15)


@pytest.mark.parametrize(
    ("known", "usable"),
    [
        ((after(-60), after(13)), 4),
        ((after(-60), after(14)), 3),
        ((after(16), after(90)), 3),
        ((after(17), after(90)), 4),
    ],
)
def test_beyond_the_known_sessions_open_days_count(known, usable):
    assert len(held(after(13), known=known).usable_days(STITCHES, FIRST, LAST)) == usable


def test_a_session_on_a_closed_day_makes_it_no_usable_day():
    shut = open_days(REGIONS["GB-ENG"], (Closed(after(14), after(14)),))
    calendar = replace(shut, sessions=held(after(13), after(14)).sessions)
    assert calendar.usable_days(STITCHES, FIRST, LAST) == (after(13),)


def test_the_proposed_day_stays_by_open_days():
    for calendar in (ENGLAND, held(), held(after(13))):
        assert the(plan(episode(), calendar=calendar), "stitches-out").proposed_on == after(14)


def test_each_kind_is_remembered_by_itself():
    calendar = held(after(13), kinds=frozenset({REVIEW}))
    for _ in range(2):
        assert calendar.usable_days(STITCHES, FIRST, LAST) == ()
        assert calendar.usable_days(REVIEW, FIRST, LAST) == (after(13),)


def test_the_last_open_days_before_a_day_leave_out_holidays():
    """Easter 2026: Good Friday 3 April, Easter Monday 6 April (gov.uk bank holidays)."""
    assert ENGLAND.last_open_days(day("2026-04-08"), 2) == (day("2026-04-07"), day("2026-04-02"))
    assert ENGLAND.last_open_days(ENGLAND.covered_from, 2) == ()
