"""Shares, funnel bands and quantiles against reference libraries: statsmodels, scipy, numpy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom
from statsmodels.stats.proportion import proportion_confint

from caseload.waits.figures import Share
from caseload.waits.proportion import Band, band, chance, dispersion, quantile, wilson

QUANTILES = (0.025, 0.975, 0.001, 0.999)


def counted(*values: int) -> tuple[np.ndarray, np.ndarray]:
    return np.array(values, np.int64), np.ones(len(values), np.int64)


def interpolated(size: int, share: float, quantile: float) -> float:
    """Spiegelhalter 2005, appendix (from memory), with the distribution of scipy."""
    least = binom.ppf(quantile, size, share)
    above = (binom.cdf(least, size, share) - quantile) / binom.pmf(least, size, share)
    return float(np.clip((least - above) / size, 0, 1))


@given(st.integers(1, 100_000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_wilson_is_that_of_statsmodels(counts: tuple[int, int]) -> None:
    share = wilson(*counts)
    assert (share.number, share.of, share.share) == (*counts, counts[0] / counts[1])
    expected = np.clip(proportion_confint(*counts, method="wilson"), 0, 1)
    assert (share.lower, share.upper) == pytest.approx(tuple(expected), abs=1e-12)


def test_nothing_has_no_share() -> None:
    assert wilson(0, 0) == Share(0, 0, None, None, None)


def test_none_and_all_reach_the_edge() -> None:
    assert wilson(0, 7).lower == 0 and wilson(7, 7).upper == 1


@given(st.integers(1, 3_000), st.floats(0.001, 0.999))
def test_a_band_is_that_of_the_exact_distribution(size: int, share: float) -> None:
    assert band(size, share) == pytest.approx([interpolated(size, share, each) for each in QUANTILES], abs=1e-9)


def test_a_band_of_a_million_does_not_overflow() -> None:
    expected = [interpolated(1_000_000, 0.37, each) for each in QUANTILES]
    assert band(1_000_000, 0.37) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_a_band_round_none_or_all_has_no_width(share: float) -> None:
    assert band(12, share) == Band(share, share, share, share)


def test_a_band_of_nobody_is_everything() -> None:
    assert band(0, 0.4) == Band(0, 1, 0, 1)


@given(st.integers(1, 3_000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), st.floats(0.001, 0.999))
def test_chance_is_the_tail_of_the_exact_distribution(counts: tuple[int, int], share: float) -> None:
    number, size = counts
    expected = binom.cdf(number, size, share) if number < size * share else binom.sf(number - 1, size, share)
    assert chance(number, size, share) == pytest.approx(float(expected), abs=1e-12)


@pytest.mark.parametrize(("number", "share", "expected"), [(0, 0.0, 1), (1, 0.0, 0), (9, 1.0, 1), (8, 1.0, 0)])
def test_where_none_or_all_is_the_rule_anything_else_is_impossible(number: int, share: float, expected: float) -> None:
    assert chance(number, 9, share) == expected


@given(st.lists(st.integers(0, 400), min_size=1, max_size=60), st.sampled_from([0, 0.25, 0.5, 0.92, 1]))
def test_quantiles_are_those_of_numpy(values: list[int], share: float) -> None:
    assert quantile(*counted(*values), share) == pytest.approx(float(np.quantile(values, share)), abs=1e-9)


def test_alike_values_may_be_counted_together() -> None:
    values, numbers = np.array([9, 4, 1]), np.array([1, 3, 0])
    assert quantile(values, numbers, 0.92) == pytest.approx(float(np.quantile([9, 4, 4, 4], 0.92)))


@pytest.mark.parametrize("numbers", [[], [0, 0]])
def test_nothing_has_no_quantile(numbers: list[int]) -> None:
    assert quantile(np.arange(len(numbers)), np.array(numbers, np.int64), 0.5) is None


def test_dispersion_is_chi_square_over_its_degrees() -> None:
    """(8 - 10)^2 / 5 + (12 - 10)^2 / 5 = 1.6, one degree: computed by hand."""
    assert dispersion([(8, 20), (12, 20), (0, 0)], 0.5) == pytest.approx(1.6)


def test_dispersion_has_one_degree_less_than_groups() -> None:
    """As above with a third group that is as the rest: 1.6 over two."""
    assert dispersion([(8, 20), (12, 20), (10, 20)], 0.5) == pytest.approx(0.8)


@pytest.mark.parametrize(("groups", "overall"), [([(8, 20), (0, 0)], 0.4), ([(0, 9), (0, 9)], 0), ([(9, 9)] * 2, 1)])
def test_what_cannot_differ_has_no_dispersion(groups: list[tuple[int, int]], overall: float) -> None:
    assert dispersion(groups, overall) is None
