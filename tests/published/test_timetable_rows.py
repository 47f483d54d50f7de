"""Rows T11-T16 of the table of checks: gates, partial removal, and what each way of closing the skin asks for.

T11, T12: published scar protocols. T13: nursing texts on alternate removal. T15: strength tables of absorbable
materials. T16: common practice after percutaneous release.
"""

import pytest

from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import ActivityKind, Lock, Suture, Technique
from tests.timetable.builders import (
    TEN_TO_FOURTEEN,
    TWO_WEEK,
    after,
    days_of,
    doing,
    episode,
    kinds,
    out_and_closed,
    plan,
    stitches,
    the,
)


def test_t11_scar_massage_stays_locked_while_the_wound_is_not_recorded_closed() -> None:
    timetable = plan(episode(findings=(stitches(after(12)),)), as_of=after(30), rules=TEN_TO_FOURTEEN)
    assert Lock.WOUND_CLOSED in doing(timetable, ActivityKind.SCAR_MASSAGE).locked_by(after(30))


def test_t12_scar_massage_opens_the_day_after_removal_and_aims_at_the_second() -> None:
    timetable = plan(episode(findings=out_and_closed(after(12))), rules=TEN_TO_FOURTEEN)
    massage = doing(timetable, ActivityKind.SCAR_MASSAGE)
    assert (massage.from_on, massage.aim_on) == (after(13), after(14))
    assert massage.locked_by(after(13)) == () and massage.locked_by(after(12)) == (Lock.DAY,)


def test_t13_a_partial_removal_locks_what_depends_on_it_and_asks_for_a_recheck() -> None:
    facts = episode(stitches_in=4, findings=(stitches(after(12), out=2, left=2),))
    timetable = plan(facts, rules=TEN_TO_FOURTEEN)
    assert days_of(the(timetable, "stitches-recheck")) == (3, 5, 7)
    assert the(timetable, "stitches-out").dropped
    for kind in (ActivityKind.SCAR_MASSAGE, ActivityKind.PASSIVE_STRETCH, ActivityKind.SOAKING):
        assert Lock.STITCHES_OUT in doing(timetable, kind).locks


@pytest.mark.parametrize(("rules", "window"), [(TEN_TO_FOURTEEN, (10, 12, 14)), (TWO_WEEK, (12, 14, 16))])
def test_t15_absorbable_stitches_are_checked_not_taken_out(rules: RuleSet, window: tuple[int, int, int]) -> None:
    timetable = plan(episode(suture=Suture.ABSORBABLE), rules=rules)
    assert "stitches-out" not in kinds(timetable)
    assert days_of(the(timetable, "wound-check")) == window


def test_t16_a_percutaneous_release_has_its_check_in_the_first_week_or_so() -> None:
    timetable = plan(episode(suture=Suture.NONE, technique=Technique.PERCUTANEOUS), rules=TEN_TO_FOURTEEN)
    assert "stitches-out" not in kinds(timetable)
    assert days_of(the(timetable, "wound-check")) == (5, 7, 10)
