"""Shares, quantiles and charts of waits against the published: rows W13, W16, W20, P01 to P06 of the table of checks.

Each check names its source beside it; “computed” is arithmetic on the published rule, “from memory” was not read again.
"""

from datetime import date, timedelta

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from caseload.waits.control import RUN, individuals, shares, signals
from caseload.waits.proportion import band, quantile, wilson
from caseload.waits.rows import Period, Row, columns
from caseload.waits.targets import within_due
from caseload.waits.terms import Signal

# W13 and C5: quantiles of a plain list. Hyndman and Fan, Am Stat 1996;50:361; the values computed with numpy.

TEN = (3, 5, 7, 8, 9, 11, 14, 21, 30, 44)


def test_w13_a_plain_list_goes_by_type_7() -> None:
    assert quantile(np.array(TEN), np.ones(10, np.int64), 0.92) == pytest.approx(33.92, abs=5e-3)


def test_w13_other_types_of_the_same_ten_differ_by_days() -> None:
    """Type 6 gives 44 and type 8 41.76: so the type is named beside the figure."""
    assert np.quantile(TEN, 0.92, method="weibull") == pytest.approx(44)
    assert np.quantile(TEN, 0.92, method="median_unbiased") == pytest.approx(41.76, abs=5e-3)


# W16: 18 weeks from referral to treatment (england.nhs.uk: 92 % within 18 weeks); 126 days is arithmetic.


@pytest.mark.parametrize(("seen_on", "kept"), [(date(2026, 5, 11), 1), (date(2026, 5, 12), 0)])
def test_w16_day_126_is_within_eighteen_weeks_and_the_next_is_over(seen_on: date, kept: int) -> None:
    """Whether the day itself is within was not found published; our own rule: it is."""
    started = date(2026, 1, 5)
    due_on = started + timedelta(weeks=18)
    assert (due_on - started).days == 126 and due_on == date(2026, 5, 11)
    rows = columns([Row(started, seen_on, "seen", due_on=due_on)])
    share = within_due(rows, Period(date(2026, 5, 1), date(2026, 5, 31)))
    assert (share.number, share.of) == (kept, 1)


# W20 and C6: Wilson's score interval.


@pytest.mark.parametrize(
    ("number", "of", "lower", "upper"),
    [
        (81, 263, 0.2553, 0.3662),  # Newcombe, Stat Med 1998;17:857, from memory
        (15, 148, 0.0624, 0.1605),  # the same
        (0, 20, 0, 0.1611),  # the same
        (1, 29, 0.0061, 0.1718),  # the same
        (23, 60, 0.2709, 0.5098),  # counts of vassarstats.net; computed
        (3, 155, 0.0066, 0.0554),  # infections, counts as published; computed
        (2, 150, 0.0037, 0.0473),  # the same
    ],
)
def test_w20_wilson(number: int, of: int, lower: float, upper: float) -> None:
    share = wilson(number, of)
    assert (share.lower, share.upper) == pytest.approx((lower, upper), abs=5e-5)


# P01 and P02: individual values and moving range. NIST/SEMATECH e-Handbook 6.3.2.2, flow rate of ten batches.

FLOW_RATE = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_p01_mean_limits_and_mean_range_of_the_flow_rate() -> None:
    """The handbook divides by 1.128 where we multiply by 2.66: its limits are met to a thousandth."""
    chart = individuals(FLOW_RATE)
    assert chart.limits
    found = (chart.mean, chart.limits.upper, chart.limits.lower, chart.mean_range)
    assert found == pytest.approx((50.81, 55.8041, 45.8159, 1.8778), abs=1e-3)
    assert set(signals(FLOW_RATE, chart.mean, [chart.limits] * 10)) == {None}


def test_p02_with_the_printed_constant() -> None:
    """Computed with 2.66."""
    limits = individuals(FLOW_RATE).limits
    assert limits == pytest.approx((45.8151, 55.8049), abs=5e-5)


def test_p01_trap_the_standard_deviation_is_another_measure() -> None:
    """2.0339, computed; one public file certifies 1.8674. Neither is what the limits are made of."""
    chart = individuals(FLOW_RATE)
    assert chart.limits and chart.mean is not None
    assert (chart.limits.upper - chart.mean) / 3 != pytest.approx(float(np.std(FLOW_RATE, ddof=1)), abs=0.1)


# P04: proportions. NIST/SEMATECH e-Handbook 6.3.3.2 (itl.nist.gov, pmc332): 30 samples of 50.

DEFECTIVE = (
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6,
)  # fmt: skip


def test_p04_mean_limits_and_the_two_samples_outside() -> None:
    """The mean is the handbook's; the limits and which are outside are computed."""
    chart = shares([(number, 50) for number in DEFECTIVE])
    assert chart.mean == pytest.approx(0.2313, abs=5e-5)
    assert chart.limits[0] == pytest.approx((0.0524, 0.4102), abs=5e-5) and len(set(chart.limits)) == 1
    found = signals([number / 50 for number in DEFECTIVE], chart.mean, chart.limits)
    assert [sample for sample, said in enumerate(found, start=1) if said is Signal.BEYOND] == [15, 23]


def test_p04_without_the_two() -> None:
    """Computed."""
    chart = shares([(number, 50) for number in DEFECTIVE if number not in (22, 24)])
    assert chart.mean == pytest.approx(0.2150, abs=5e-5)
    assert chart.limits[0] == pytest.approx((0.0407, 0.3893), abs=5e-5)


# P05: runs. Western Electric, Statistical Quality Control Handbook, 1956: eight on one side. Nelson, J Qual Technol
# 1984;16:238: nine. Both as on public pages of these rules.


def test_p05_the_run_speaks_at_the_eighth_where_nelson_waits_for_the_ninth() -> None:
    found = signals([1.0] * 9, 0, [None] * 9)
    assert [place for place, said in enumerate(found, start=1) if said is Signal.RUN] == [8, 9]
    assert RUN == 8


# P06 and C8: funnel limits. Spiegelhalter, Stat Med 2005;24:1185 (levels and interpolation from memory); computed.


@pytest.mark.parametrize(
    ("size", "limits_95", "limits_998"),
    [(20, (0, 0.2285), None), (50, (0.0139, 0.1797), None), (100, (0.0404, 0.1577), (0.0142, 0.1984))],
)
def test_p06_exact_limits_round_a_tenth(
    size: int, limits_95: tuple[float, float], limits_998: tuple[float, float] | None
) -> None:
    found = band(size, 0.1)
    assert found[:2] == pytest.approx(limits_95, abs=5e-5)
    assert limits_998 is None or found[2:] == pytest.approx(limits_998, abs=5e-5)


def test_p06_the_normal_approximation_is_not_what_we_draw() -> None:
    """.0412 to .1588 of 100, and below nothing of 20: statsmodels."""
    assert proportion_confint(10, 100, method="normal") == pytest.approx((0.0412, 0.1588), abs=5e-5)
    assert 0.1 - 1.96 * (0.1 * 0.9 / 20) ** 0.5 < 0 == band(20, 0.1).lower_95
