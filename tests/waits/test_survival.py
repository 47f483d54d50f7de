"""The curve against its definition in exact fractions, and what is read off it where it is easily got wrong."""

from math import sqrt

import numpy as np
import pytest

from caseload.waits.figures import Day, Tail
from caseload.waits.rows import Waits
from caseload.waits.survival import (
    LONGEST,
    MEDIAN,
    PART,
    Curve,
    Estimate,
    at_risk_on,
    centile,
    kaplan_meier,
    left_unseen,
    regular_days,
    restricted_mean,
    seen_by,
    steps,
    tail,
    tally,
    waiting_after,
)
from tests.waits import slowly
from tests.waits.builders import WORDS, invented, one_by_one, seen_and_open, shuffled, waits


def curve(*args, **kwargs) -> Curve:
    return kaplan_meier(tally(waits(*args, **kwargs)))


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_the_curve_is_the_product_of_its_definition(seed, late):
    of = invented(seed, 30, late=late, longest=12)
    everyone, found = slowly.people(of), kaplan_meier(tally(of))
    for day in range(found.last_day + 1):
        assert found.at_risk[day] == slowly.at_risk(everyone, day)
        assert found.still_waiting[day] == pytest.approx(float(slowly.still_waiting(everyone, day)), abs=1e-14)
        assert found.se[day] == pytest.approx(sqrt(slowly.variance(everyone, day)), abs=1e-14)


@pytest.mark.parametrize("late", [False, True])
def test_the_order_of_rows_and_how_alike_ones_are_put_together_do_not_matter(late):
    plain = invented(7, 60, late=late)
    of = plain._replace(number=np.random.default_rng(7).integers(1, 9, 60))
    found = kaplan_meier(tally(of))
    for other in (shuffled(of, 1), one_by_one(of), shuffled(one_by_one(of), 2)):
        assert all(np.array_equal(one, two) for one, two in zip(found, kaplan_meier(tally(other)), strict=True))


@pytest.mark.parametrize("seed", range(4))
def test_everybody_is_counted_once_by_how_they_stopped(seed):
    of = invented(seed, 200, late=True)
    by_day = tally(of)
    assert by_day.ended.sum(axis=1).tolist() == [int((of.ended == place).sum()) for place in range(len(of.words))]
    assert by_day.at_risk.sum() == (of.days - of.entered + 1).sum()


@pytest.mark.parametrize("late", [False, True])
def test_more_waits_than_are_counted_at_a_time_are_counted_alike(late):
    of = invented(8, PART + 100, late=late)
    whole = tally(of)
    parts = [tally(Waits(*(column[those] for column in of[:4]), words=WORDS)) for those in (slice(99), slice(99, None))]
    for place in (0, 1):
        assert np.array_equal(whole[place], parts[0][place] + parts[1][place])


def test_somebody_who_arrives_on_a_day_can_be_seen_on_that_day():
    found = curve([3, 5], [1, 0], entered=[3, 0])
    assert found.at_risk.tolist() == [1, 1, 1, 2, 1, 1]
    assert found.still_waiting[3] == 0.5


def test_seen_on_the_very_day_of_asking_is_a_wait_of_no_days():
    assert steps(curve([0, 4], [1, 0]))[0][:4] == (0, 2, 1, 0.5)


def test_before_anybody_is_seen_the_limits_are_one():
    found = curve([2, 5, 6], [0, 1, 0])
    assert (found.still_waiting[4], found.se[4], found.lower[4], found.upper[4]) == (1, 0, 1, 1)


def test_at_zero_the_lower_limit_is_zero_and_the_upper_one_stays_where_it_was():
    found = curve([1, 2], [1, 1])
    assert (found.still_waiting[2], found.se[2], found.lower[2]) == (0, 0, 0)
    assert found.upper[2] == found.upper[1] < 1


def test_where_all_are_seen_on_the_first_day_nothing_is_known_of_the_limits():
    assert steps(curve([0, 0, 0], [1, 1, 1])) == ((0, 3, 3, 0, 0, 0, 1),)


def test_limits_stay_between_zero_and_one_and_around_the_curve():
    for seed in range(20):
        found = kaplan_meier(tally(invented(seed, 8, late=True)))
        assert np.all((found.lower >= 0) & (found.lower <= found.still_waiting + 1e-15))
        assert np.all((found.upper <= 1) & (found.upper >= found.still_waiting - 1e-15))


def test_the_median_is_the_first_day_on_which_half_or_fewer_wait():
    """23/24, times 22/23 and so on to 12/13, is a little more than a half in floating point."""
    found = kaplan_meier(tally(seen_and_open(range(1, 25))))
    assert 0.5 < found.still_waiting[12] < 0.5 + 1e-15
    assert centile(found, MEDIAN).day == 12


def test_a_centile_that_is_not_reached_has_no_day():
    assert centile(curve([1, 9, 9], [1, 0, 0]), MEDIAN) == Day(None, 1, None)


def test_how_many_wait_after_a_day_is_not_known_beyond_the_last_day_watched():
    found = curve([2, 6, 6], [1, 0, 0])
    assert waiting_after(found, 1) == Estimate(1, 1, 1)
    assert waiting_after(found, 6).share == pytest.approx(2 / 3)
    assert waiting_after(found, 7) is seen_by(found, 7) is restricted_mean(found, 7) is None


def test_where_everybody_was_seen_nobody_waits_later():
    found = curve([1, 3], [1, 1])
    assert waiting_after(found, 99).share == 0
    assert restricted_mean(found, 99) == restricted_mean(found) == 2


def test_the_share_seen_is_what_does_not_wait_with_its_limits_turned():
    found = curve([1, 2, 3, 9], [1, 1, 1, 0])
    waiting, seen = waiting_after(found, 2), seen_by(found, 2)
    assert seen == Estimate(1 - waiting.share, 1 - waiting.upper, 1 - waiting.lower)
    assert seen.lower < seen.share < seen.upper


def test_of_people_who_were_all_seen_the_restricted_mean_is_their_mean():
    of = invented(3, 50, late=False, ways=2)
    of = of._replace(ended=np.ones_like(of.ended))
    assert restricted_mean(kaplan_meier(tally(of))) == pytest.approx(of.days.mean())


def test_the_row_of_numbers_under_a_curve_covers_it_evenly():
    found = curve([2, 30, 30], [1, 0, 0])
    assert at_risk_on(found, (0, 2, 3, 30, 31)) == ((0, 3), (2, 3), (3, 2), (30, 2), (31, 0))
    assert regular_days(5) == (0, 1, 2, 3, 4, 5)
    assert regular_days(30) == (0, 7, 14, 21, 28)
    assert [len(regular_days(last)) <= 8 for last in range(0, 2000, 13)] == [True] * 154
    assert {day % 28 for day in regular_days(1500)} == {0}


def test_a_tail_of_few_is_said():
    ten = [1, 2, 3, 4, 5, 6, 6, 8, 9, 10]
    assert tail(curve(ten, [1] * 10)) == Tail(last_day=10, thin_from=7, shaky_until=None, emptied_on=None)
    assert tail(curve([3] * 5, [0] * 5)) == Tail(3, None, None, None)
    assert tail(curve([3] * 4, [0] * 4)).thin_from == 0


def test_a_curve_that_is_at_zero_while_others_are_watched_later_says_so():
    """Two early birds are seen while the other six, who came late, are not watched yet."""
    found = curve([1, 2, *[9] * 6], [1, 1, *[0] * 6], entered=[0, 0, *[4] * 6])
    assert tail(found) == Tail(last_day=9, thin_from=None, shaky_until=2, emptied_on=2)
    assert found.still_waiting[9] == 0


def test_nobody_at_all_gives_a_curve_of_one_day_and_nothing_to_read_off():
    found = curve([], [])
    assert steps(found) == ()
    assert centile(found, MEDIAN) == Day(None, None, None)
    assert tail(found) == Tail(0, 0, None, None)


@pytest.mark.parametrize(("days", "entered", "why"), [(3, 4, "at the earliest"), (LONGEST + 1, 0, "at most")])
def test_waits_that_cannot_be_are_refused(days, entered, why):
    with pytest.raises(ValueError, match=why):
        tally(waits([days], [1], entered=[entered]))


def test_the_marks_on_a_curve_are_those_who_left_it_unseen_however_that_was():
    assert left_unseen(tally(waits([2, 5, 5, 5, 9], [1, 0, 2, 1, 3], number=[1, 2, 1, 1, 4]))) == ((5, 3), (9, 4))
