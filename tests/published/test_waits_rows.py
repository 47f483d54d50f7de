"""The statistics of waits against the published: rows W01 to W06, W09 and W11 to W13 of the table of checks.

Each check names its source beside it; “computed” was worked out from the published data with lifelines, statsmodels or
scikit-survival, “from memory” was not read again.
"""

import numpy as np
import pytest

from caseload.waits.compare import log_rank
from caseload.waits.competing import aalen_johansen
from caseload.waits.figures import Day
from caseload.waits.proportion import quantile
from caseload.waits.survival import (
    MEDIAN,
    centile,
    kaplan_meier,
    restricted_mean,
    steps,
    tally,
)
from tests.waits.builders import invented, placebo, seen_and_open, six_mp, waits

# W01: Freireich, Blood 1963; 21: 699, the arm of 21 children given 6-mercaptopurine. The table is computed; the totals
# of 42 children, 30 relapses and 541 weeks at risk are those of data.princeton.edu.
SIX_MP = (
    # week, at risk, seen, waiting, error, lower, upper (log-log)
    (6, 21, 3, 0.8571, 0.0764, 0.6197, 0.9516),
    (7, 17, 1, 0.8067, 0.0869, 0.5631, 0.9228),
    (10, 15, 1, 0.7529, 0.0963, 0.5032, 0.8894),
    (13, 12, 1, 0.6902, 0.1068, 0.4316, 0.8491),
    (16, 11, 1, 0.6275, 0.1141, 0.3675, 0.8049),
    (22, 7, 1, 0.5378, 0.1282, 0.2678, 0.7468),
    (23, 6, 1, 0.4482, 0.1346, 0.1881, 0.6801),
)


def test_w01_the_published_sets_are_whole() -> None:
    both = (six_mp(), placebo())
    assert sum(len(of.days) for of in both) == 42
    assert sum(int(of.ended.sum()) for of in both) == 30
    assert [int(of.days.sum()) for of in both] == [359, 182]


def test_w01_six_mercaptopurine() -> None:
    found = np.array(steps(kaplan_meier(tally(six_mp()))))
    assert found == pytest.approx(np.array(SIX_MP), abs=5e-5)


# W02: the placebo arm of the same trial; from a listing of the sts command at data.princeton.edu.


def test_w02_placebo_with_limits_on_the_log_log_scale() -> None:
    first, second, *_ = steps(kaplan_meier(tally(placebo())))
    assert (first.day, *first[3:]) == pytest.approx((1, 0.9048, 0.0641, 0.6700, 0.9753), abs=5e-5)
    assert (second.day, *second[3:]) == pytest.approx((2, 0.8095, 0.0857, 0.5689, 0.9239), abs=5e-5)


# W03: the method of Brookmeyer and Crowley, Biometrics 1982; 38: 29, with log-log limits. Computed. With limits on the
# plain log scale the lower one of the first would be 16, so the method has to be named.


def test_w03_the_median_with_its_limits() -> None:
    assert centile(kaplan_meier(tally(six_mp())), MEDIAN) == Day(23, 13, None)
    assert centile(kaplan_meier(tally(placebo())), MEDIAN) == Day(8, 4, 11)


# W04: Bland and Altman, BMJ 1998; 317: 1572 (PMC1114388): months until conception of 38 women. The shares are computed.
CONCEIVED = (*[1] * 6, *[2] * 5, *[3] * 3, *[4] * 3, 6, 6, 9, 9, 9, 10, 13, 16)
NOT_YET = (2, 3, 4, 7, 7, 8, 8, 9, 9, 9, 11, 24, 24)


def test_w04_whoever_is_lost_in_the_month_of_another_s_event_is_still_at_risk_in_it() -> None:
    found = steps(kaplan_meier(tally(seen_and_open(CONCEIVED, NOT_YET))))
    assert [step.day for step in found] == [1, 2, 3, 4, 6, 9, 10, 13, 16]
    assert [step.at_risk for step in found] == [38, 32, 26, 22, 18, 12, 6, 4, 3]
    published = [0.8421, 0.7105, 0.6285, 0.5428, 0.4825, 0.3619, 0.3016, 0.2262, 0.1508]
    assert [step.still_waiting for step in found] == pytest.approx(published, abs=5e-5)


@pytest.mark.parametrize(("to", "published"), [(23, 17.9092), (35, 23.2874)])
def test_w05_the_restricted_mean_of_six_mercaptopurine(to: int, published: float) -> None:
    """Computed on the data of W01."""
    assert restricted_mean(kaplan_meier(tally(six_mp())), to) == pytest.approx(published, abs=5e-4)


def test_w06_six_mercaptopurine_against_placebo() -> None:
    """Computed: lifelines and statsmodels agree. The sum of (O - E) ** 2 / E, 15.2329, is another statistic."""
    found = log_rank({"6-MP": tally(six_mp()), "placebo": tally(placebo())})
    assert found.chi_square == pytest.approx(16.7929, abs=5e-4)
    assert found.p == pytest.approx(4.17e-5, abs=5e-8)
    assert found.observed == {"6-MP": 9, "placebo": 21}
    assert found.expected == pytest.approx({"6-MP": 19.2505, "placebo": 10.7495}, abs=5e-5)
    by_other = sum((found.observed[arm] - found.expected[arm]) ** 2 / found.expected[arm] for arm in found.observed)
    assert by_other == pytest.approx(15.2329, abs=5e-4)


# W09: why those who were seen do not tell how long people wait. Computed.


def test_w09_of_nine_referrals_the_four_that_still_wait_count() -> None:
    seen, still = (5, 8, 10, 12, 15), (20, 25, 30, 40)
    found = kaplan_meier(tally(seen_and_open(seen, still)))
    assert quantile(np.array(seen), np.ones(5, np.int64), MEDIAN) == 10
    assert centile(found, MEDIAN).day == 15
    published = [0.8889, 0.7778, 0.6667, 0.5556, 0.4444]
    assert [step.still_waiting for step in steps(found)] == pytest.approx(published, abs=5e-5)


# W11: a set small enough for the back of an envelope; scikit-survival agrees with these (computed).


def test_w11_competing_ends_of_a_tiny_set() -> None:
    found = aalen_johansen(tally(waits([1, 2, 2, 3, 4, 5, 6, 7], [1, 2, 1, 0, 1, 2, 0, 1])))
    published = (
        (found.reached[0], [0, 0.125, 0.25, 0.25, 0.40625, 0.40625, 0.40625, 0.71875]),
        (found.reached[1], [0, 0, 0.125, 0.125, 0.125, 0.28125, 0.28125, 0.28125]),
        (found.still_waiting, [1, 0.875, 0.625, 0.625, 0.46875, 0.3125, 0.3125, 0]),
    )
    for ours, exact in published:
        assert ours.tolist() == pytest.approx(exact, abs=1e-15)


def test_w12_who_waits_and_how_the_others_ended_make_up_the_whole() -> None:
    """An identity of the estimate (Aalen and Johansen, Scand J Stat 1978; 5: 141, from memory)."""
    found = aalen_johansen(tally(invented(12, 5_000, late=True, longest=300)))
    assert np.abs(found.still_waiting + found.reached.sum(axis=0) - 1).max() < 1e-12


# W13: Hyndman and Fan, Am Stat 1996; 50: 361: ten waits. Values of all nine types computed with numpy.


@pytest.mark.parametrize(("share", "published"), [(0.92, 33.92), (0.5, 10), (0.75, 19.25)])
def test_w13_centiles_of_plain_lists_are_of_type_7(share: float, published: float) -> None:
    """At 0.92 type 6 would say 44 and type 8 41.76: on ten waits the choice alone moves it by ten days."""
    ten = np.array([3, 5, 7, 8, 9, 11, 14, 21, 30, 44])
    assert quantile(ten, np.ones(10, np.int64), share) == pytest.approx(published, abs=5e-3)
