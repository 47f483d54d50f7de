"""Several follow-ups as one visit: the window they share, its target and its length (common practice)."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from caseload.booking.needs import Asked, minutes_for, one_visit, visits_of
from caseload.errors import Refusal
from caseload.timetable.terms import FollowUpKind
from tests.booking.builders import OWN, SITE, asked, need, off

REVIEW = FollowUpKind.OUTCOME_REVIEW


def test_one_follow_up_keeps_its_own_window() -> None:
    alone = need()
    assert (alone.earliest, alone.target, alone.latest) == (off(-2), off(0), off(2))
    assert (alone.names, alone.kinds, alone.minutes) == (("s",), {FollowUpKind.STITCHES_OUT}, 20)
    assert alone.in_person and not alone.provisional and (alone.site, alone.therapist) == (SITE, OWN)


def test_one_visit_aims_at_the_target_of_what_must_be_first_inside_the_window() -> None:
    shared = need(asked(-2, 0, 2), asked(1, 8, 22, name="r", kind=REVIEW, minutes=40, in_person=False))
    assert (shared.earliest, shared.target, shared.latest) == (off(1), off(1), off(2))
    assert shared.names == ("s", "r") and shared.kinds == {FollowUpKind.STITCHES_OUT, REVIEW}
    assert shared.minutes == 60 and shared.in_person


def test_of_two_that_end_together_the_earlier_target_counts() -> None:
    assert need(asked(-2, 1, 2), asked(-2, -1, 2)).target == off(-1)


def test_a_target_after_the_common_window_is_brought_to_its_last_day() -> None:
    assert need(asked(0, 0, 5), asked(-9, 9, 3)).target == off(3)


def test_windows_that_do_not_overlap_are_refused_by_name() -> None:
    with pytest.raises(Refusal) as refused:
        need(asked(10, 12, 14, name="r", kind=REVIEW), asked())
    assert refused.value.code == "windows-apart" and refused.value.details["names"] == ("s", "r")
    assert refused.value.message == (
        "One visit cannot serve both: the last day for the stitches out is Thu 19 Feb 2026, "
        "and the first day for the outcome review is Fri 27 Feb 2026. Book them one by one."
    )


def test_a_window_that_ends_before_it_begins_is_no_quarrel_between_two() -> None:
    assert need(asked(2, 0, -2)).earliest == off(2)


def test_a_visit_is_provisional_only_if_all_of_it_is() -> None:
    assert need(asked(provisional=True)).provisional
    assert not need(asked(provisional=True), asked()).provisional


@pytest.mark.parametrize(
    ("parts", "interpreter", "minutes"),
    [
        ([20], False, 20),
        ([20, 20], False, 40),
        ([40, 40], False, 60),
        ([40, 40], True, 80),
        ([0], True, 40),
        ([], False, 20),
    ],
)
def test_a_visit_is_as_long_as_its_parts_an_hour_at_most(parts: list[int], interpreter: bool, minutes: int) -> None:
    assert minutes_for(parts, interpreter) == minutes


WINDOWS = some.builds(
    lambda first, target, last: asked(first, first + target, first + target + last),
    some.integers(-6, 6), some.integers(0, 6), some.integers(0, 6),
)  # fmt: skip


@given(some.lists(WINDOWS, min_size=1, max_size=4))
def test_the_window_of_one_visit_is_the_days_that_all_share(several: list[Asked]) -> None:
    shared = {off(on) for on in range(-6, 19) if all(each.earliest <= off(on) <= each.latest for each in several)}
    try:
        found = one_visit(several, site=SITE, therapist=None, interpreter=False)
    except Refusal as refused:
        assert refused.code == "windows-apart" and not shared
    else:
        assert (found.earliest, found.latest) == (min(shared), max(shared)) and found.target in shared


@pytest.mark.parametrize(
    ("windows", "together"),
    [
        ([], []),
        ([(1, 3, 20), (3, 5, 20)], [2]),
        ([(1, 3, 20), (4, 5, 20)], [1, 1]),
        ([(1, 3, 40), (1, 3, 20), (1, 3, 20)], [2, 1]),
    ],
)
def test_one_visit_serves_what_begins_by_the_last_day_of_the_first_as_long_as_an_hour_holds_it(windows, together):
    rows = [(off(first), off(last), minutes) for first, last, minutes in windows]
    assert [len(each) for each in visits_of(rows, lambda row: row)] == together
