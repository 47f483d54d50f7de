"""Our estimates beside those of lifelines, statsmodels and scipy, on invented waits that are open, tied and late."""

from importlib import import_module

import numpy as np
import pytest

from caseload.waits.compare import log_rank
from caseload.waits.competing import aalen_johansen
from caseload.waits.rows import Waits
from caseload.waits.survival import MEDIAN, centile, kaplan_meier, restricted_mean, steps, tally
from tests.waits.builders import WORDS, invented, waits

SEEDS = range(6)
CLOSE = 1e-13


@pytest.fixture(scope="module")
def they():
    return import_module("tests.waits.references")


def both_ways(test):
    """Some of different sizes, all watched from the start or some of them late."""
    some = [invented(seed, 70 + 90 * seed, late=late, ways=3) for seed in SEEDS for late in (False, True)]
    return pytest.mark.parametrize("of", some, ids=[f"{len(of.days)}-{of.entered.any()}" for of in some])(test)


def from_the_start(test):
    some = [invented(seed, 70 + 90 * seed, late=False, ways=3) for seed in SEEDS]
    return pytest.mark.parametrize("of", some, ids=[str(len(of.days)) for of in some])(test)


def untied(seed: int, *, late: bool) -> Waits:
    """No two stop on one day; the last to stop was not seen, so that somebody is left throughout."""
    dice = np.random.default_rng(seed)
    days = dice.permutation(np.arange(1, 81))
    ended = np.where(days == 80, 0, dice.integers(0, len(WORDS), 80))
    entered = np.where(dice.random(80) < late / 2, dice.integers(0, days), 0)
    return waits(days.tolist(), ended.tolist(), np.where(days > 75, 0, entered).tolist())


@both_ways
def test_the_curve_and_its_limits_are_those_of_lifelines(they, of):
    ours, theirs = steps(kaplan_meier(tally(of))), they.lifelines_curve(of)
    days = [step.day for step in ours]
    assert np.allclose([step.still_waiting for step in ours], theirs.survival_function_at_times(days), 0, CLOSE)
    limits = theirs.confidence_interval_.loc[days].to_numpy()
    inside = [step.still_waiting > 0 for step in ours]
    assert np.allclose([step[5:] for step in ours if step.still_waiting], limits[inside], 0, CLOSE)


@both_ways
def test_the_curve_its_error_and_who_is_at_risk_are_those_of_statsmodels(they, of):
    ours, theirs = steps(kaplan_meier(tally(of))), they.statsmodels_curve(of)
    assert [step.day for step in ours] == theirs.surv_times.tolist()
    assert [step.at_risk for step in ours] == theirs.n_risk.tolist()
    assert [step.seen for step in ours] == theirs.n_events.tolist()
    assert np.allclose([step.still_waiting for step in ours], theirs.surv_prob, 0, CLOSE)
    errors = np.nan_to_num(theirs.surv_prob_se)
    assert np.allclose([step.se for step in ours], errors, 0, CLOSE)


@pytest.mark.filterwarnings("ignore:The confidence interval is undefined")
@from_the_start
def test_the_curve_and_its_limits_are_those_of_scipy(they, of):
    ours, theirs = steps(kaplan_meier(tally(of))), they.scipy_curve(of)
    limits, seen_on = (
        theirs.confidence_interval(method="log-log"),
        np.isin(theirs.quantiles, [step.day for step in ours]),
    )
    columns = (theirs.probabilities, limits.low.probabilities, limits.high.probabilities)
    for place, column in zip((3, 5, 6), columns, strict=True):
        known = ~np.isnan(column[seen_on])
        assert np.allclose(np.array([step[place] for step in ours])[known], column[seen_on][known], 0, CLOSE)


@both_ways
def test_the_median_and_its_limits_are_those_of_lifelines_and_statsmodels(they, of):
    """Where no day leaves exactly a half waiting: there lifelines and statsmodels have other days (see below)."""
    curve, theirs = kaplan_meier(tally(of)), they.statsmodels_curve(of)
    assert np.abs(curve.still_waiting - MEDIAN).min() > 1e-9
    ours = [np.inf if day is None else day for day in centile(curve, MEDIAN)]
    assert ours == [they.lifelines_curve(of).median_survival_time_, *theirs.quantile_ci(MEDIAN)]
    assert ours[0] == theirs.quantile(MEDIAN) or np.isinf(ours[0])


def test_where_exactly_a_half_waits_ours_is_the_first_such_day_and_statsmodels_has_the_next(they):
    of = waits([1, 2, 3, 4], [1, 1, 1, 1])
    assert centile(kaplan_meier(tally(of)), MEDIAN).day == 2
    assert they.statsmodels_curve(of).quantile(MEDIAN) == 3


@from_the_start
def test_the_restricted_mean_is_that_of_lifelines(they, of):
    assert restricted_mean(kaplan_meier(tally(of)), 30) == pytest.approx(they.lifelines_mean(of, 30), abs=1e-11)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", SEEDS)
def test_how_waits_end_is_that_of_lifelines(they, seed, late):
    of = untied(seed, late=late)
    ours = aalen_johansen(tally(of))
    for place in range(1, len(WORDS)):
        theirs = they.lifelines_reached(of, place)
        days = [int(day) for day in theirs.index if day >= 1 and day == int(day)]
        assert len(days) >= 79
        assert np.allclose(ours.reached[place - 1, days], theirs.loc[days].to_numpy()[:, 0], 0, CLOSE)


@pytest.mark.parametrize("number", [2, 3, 5])
@pytest.mark.parametrize("late", [False, True])
def test_groups_differ_as_lifelines_and_statsmodels_have_it(they, number, late):
    groups = {
        f"site {each}": invented(each, 50 + 30 * each, late=late, longest=30 + 3 * each) for each in range(number)
    }
    ours = log_rank({name: tally(of) for name, of in groups.items()})
    assert (ours.chi_square, ours.p) == pytest.approx(they.statsmodels_log_rank(groups), rel=1e-10)
    if not late:
        assert (ours.chi_square, ours.p) == pytest.approx(they.lifelines_log_rank(groups), rel=1e-10)
