"""Control charts: what their guards hold, and when their two rules speak."""

from math import pi, sqrt

import pytest

from caseload.waits.control import TO_LIMITS, Limits, individuals, shares, signals
from caseload.waits.terms import Signal

RUN, BEYOND = Signal.RUN, Signal.BEYOND
WIDE = Limits(-100, 100)


def said(*values: float | None, mean: float = 0, around: Limits | None = WIDE) -> list[Signal | None]:
    return list(signals(values, mean, [around] * len(values)))


def test_the_constant_is_the_printed_one() -> None:
    """Exactly: d2 = 2 / sqrt(pi); tables print 2.66."""
    d2 = 2 / sqrt(pi)
    assert pytest.approx(3 / d2, abs=0.002) == TO_LIMITS and round(3 / 1.128, 2) == TO_LIMITS


def test_two_values_have_limits() -> None:
    assert individuals([4, 6]) == (5, Limits(5 - 2 * 2.66, 5 + 2 * 2.66), 2)


def test_one_value_has_no_limits_and_none_no_mean() -> None:
    assert individuals([4]) == (4, None, None) and individuals([]) == (None, None, None)


def test_values_that_are_all_the_same_say_nothing() -> None:
    found = individuals([0.1] * 12)
    assert found.mean_range == 0 and found.limits and found.mean is not None
    assert set(signals([0.1] * 12, found.mean, [found.limits] * 12)) == {None}


def test_the_limits_of_shares_follow_the_size_of_each_point() -> None:
    found = shares([(5, 10), (50, 100)])
    assert found.mean == 0.5
    half = 3 * sqrt(0.25 / 10), 3 * sqrt(0.25 / 100)
    assert found.limits[0] == pytest.approx((0.5 - half[0], 0.5 + half[0]))
    assert found.limits[1] == pytest.approx((0.5 - half[1], 0.5 + half[1]))


def test_limits_of_shares_stay_between_none_and_all() -> None:
    assert shares([(1, 4), (3, 4)]).limits == (Limits(0, 1),) * 2


@pytest.mark.parametrize("number", [0, 6])
def test_none_or_all_of_each_say_nothing(number: int) -> None:
    found = shares([(number, 6)] * 9)
    assert set(signals([number / 6] * 9, found.mean, found.limits)) == {None}


def test_a_week_of_nothing_has_no_limits() -> None:
    assert shares([(0, 0), (1, 2)]).limits[0] is None
    assert shares([(0, 0), (0, 0)]) == (None, (None, None))
    assert signals([None], None, [None]) == (None,)


def test_a_point_beyond_either_limit_speaks_and_one_on_it_does_not() -> None:
    around = Limits(1, 3)
    assert said(0.9, 1, 3, 3.1, mean=2, around=around) == [BEYOND, None, None, BEYOND]


def test_the_eighth_in_a_row_speaks_and_each_one_after_it() -> None:
    assert said(*[1] * 9) == [None] * 7 + [RUN, RUN]
    assert said(*[-1] * 8)[-1] is RUN


def test_crossing_the_mean_begins_anew() -> None:
    assert said(*[1] * 7, *[-1] * 8) == [None] * 14 + [RUN]


def test_a_point_on_the_mean_ends_a_run() -> None:
    assert said(*[1] * 7, 0, *[1] * 7) == [None] * 15


def test_a_week_of_nothing_does_not_end_a_run() -> None:
    assert said(*[1] * 7, None, 1) == [None] * 8 + [RUN]


def test_beyond_comes_before_the_run() -> None:
    assert said(*[1] * 7, 101)[-1] is BEYOND


def test_without_limits_only_the_run_can_speak() -> None:
    assert said(*[500] * 8, around=None) == [None] * 7 + [RUN]
