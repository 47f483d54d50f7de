"""How fast the statistics of waits are: `python -m tests.benchmarks.waits [WAITS]`, a million unless it is said.

Everything is timed side by side in one run, best of up to twenty rounds taken in turn (fewer where one takes seconds),
because other work on the machine moves every figure alike: read the ratios. Each library gets the same waits in the
form that it likes best, made beforehand, and is asked for the same: the curve with its error and log-log limits of
95 %, the incidence of each end, the log-rank of two groups. statsmodels has no limits and scipy no competing ends;
lifelines moves tied days apart by chance for Aalen-Johansen.
Before anything is timed, our limits are held against those of scipy.

scikit-survival is not among the tools for development: `pip install --require-hashes -r requirements-benchmarks.txt`.
"""

import importlib.util
import sys
import time
import warnings
from collections.abc import Callable, Mapping
from datetime import date, timedelta

import numpy as np
from lifelines import AalenJohansenFitter, KaplanMeierFitter
from lifelines.statistics import logrank_test
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from caseload.waits.compare import log_rank
from caseload.waits.competing import aalen_johansen, incidence
from caseload.waits.rows import Period, Row, Waits, columns, counts, watched
from caseload.waits.survival import kaplan_meier, steps, tally
from tests.benchmarks import table
from tests.benchmarks.measuring import timed
from tests.waits.builders import WORDS

OURS = "ours"
ROUNDS = 20
ENOUGH = 30
"""Seconds after which no further round is begun."""
LONGEST = 400
ROWS = 100_000
IS_THERE = importlib.util.find_spec("sksurv") is not None
MISSING = "scikit-survival is not installed, so it is left out: see the top of this file."

Work = Mapping[str, Callable[[], object]]


def invented(count: int, *, late: bool = False) -> Waits:
    """Of up to 400 days: a fifth still wait, half were seen, the rest ended otherwise."""
    dice = np.random.default_rng(6)
    days = np.minimum(dice.exponential(60, count).astype(np.int64), LONGEST)
    ended = dice.choice(len(WORDS), count, p=[0.2, 0.5, 0.2, 0.1])
    entered = dice.integers(0, days + 1) * (dice.random(count) < 0.3) if late else np.zeros_like(days)
    return Waits(days, ended, entered, np.ones_like(days), WORDS)


def censored(of: Waits) -> stats.CensoredData:
    return stats.CensoredData(uncensored=of.days[of.ended == 1], right=of.days[of.ended != 1])


def curves(of: Waits) -> Work:
    seen, for_scipy = of.ended == 1, censored(of)
    as_numbers = seen.astype(int)
    work: dict[str, Callable[[], object]] = {
        OURS: lambda: steps(kaplan_meier(tally(of))),
        "scipy": lambda: stats.ecdf(for_scipy).sf.confidence_interval(method="log-log"),
        "lifelines": lambda: KaplanMeierFitter().fit(of.days, seen).confidence_interval_,
        "statsmodels": lambda: SurvfuncRight(of.days, as_numbers).surv_prob_se,
    }
    if IS_THERE:
        from sksurv.nonparametric import kaplan_meier_estimator

        work["scikit-survival"] = lambda: kaplan_meier_estimator(seen, of.days, conf_type="log-log")
    return work


def late_curves(of: Waits) -> Work:
    seen, entry = of.ended == 1, of.entered - 0.5
    as_numbers = seen.astype(int)
    return {
        OURS: lambda: steps(kaplan_meier(tally(of))),
        "lifelines": lambda: KaplanMeierFitter().fit(of.days, seen, entry=entry).confidence_interval_,
        "statsmodels": lambda: SurvfuncRight(of.days, as_numbers, entry=entry).surv_prob_se,
    }


def ends(of: Waits) -> Work:
    fitter = AalenJohansenFitter(calculate_variance=False, seed=6)
    places = range(1, len(WORDS))
    work: dict[str, Callable[[], object]] = {
        OURS: lambda: incidence(aalen_johansen(tally(of))),
        "lifelines": lambda: [fitter.fit(of.days, of.ended, place).cumulative_density_ for place in places],
    }
    if IS_THERE:
        from sksurv.nonparametric import cumulative_incidence_competing_risks

        work["scikit-survival"] = lambda: cumulative_incidence_competing_risks(of.ended, of.days)
    return work


def _some(of: Waits, those: slice) -> Waits:
    days, ended, entered, number = (column[those] for column in of[:4])
    return Waits(days, ended, entered, number, of.words)


def groups(of: Waits) -> Work:
    half = len(of.days) // 2
    one, two = _some(of, slice(half)), _some(of, slice(half, None))
    for_scipy, seen = (censored(one), censored(two)), of.ended == 1
    as_numbers, names = seen.astype(int), (np.arange(len(of.days)) >= half).astype(int)
    work: dict[str, Callable[[], object]] = {
        OURS: lambda: log_rank({"one": tally(one), "two": tally(two)}),
        "scipy": lambda: stats.logrank(*for_scipy),
        "lifelines": lambda: logrank_test(one.days, two.days, one.ended == 1, two.ended == 1),
        "statsmodels": lambda: survdiff(of.days, as_numbers, names),
    }
    if IS_THERE:
        from sksurv.compare import compare_survival

        outcome = np.array(list(zip(seen, of.days, strict=True)), dtype=[("seen", bool), ("days", float)])
        work["scikit-survival"] = lambda: compare_survival(outcome, names)
    return work


def compare_answers(of: Waits) -> None:
    """AssertionError where the answers differ: a quick wrong answer is worth nothing."""
    ours = steps(kaplan_meier(tally(of)))
    limits = stats.ecdf(censored(of)).sf.confidence_interval(method="log-log")
    on = np.isin(limits.low.quantiles, [step.day for step in ours])
    theirs = np.column_stack((limits.low.probabilities[on], limits.high.probabilities[on]))
    assert np.allclose(theirs, [step[5:] for step in ours], 0, 1e-12, equal_nan=False)


def side_by_side(title: str, work: Work) -> None:
    best, begun = dict.fromkeys(work, float("inf")), time.process_time()
    for _ in range(ROUNDS):
        if time.process_time() < begun + ENOUGH:
            best |= {name: min(best[name], timed(each).own) for name, each in work.items()}
    for name, took in best.items():
        print(table.line(title, name, f"{took * 1000:,.1f}", f"{took / best[OURS]:.1f}"), flush=True)


def listed() -> list[Row]:
    """Waits of two years, no two alike in length and start."""
    first = date(2024, 1, 1)
    starts = [first + timedelta(place % 730) for place in range(ROWS)]
    return [
        Row(start, start + timedelta(place // 730), "seen", None, start + timedelta(14))
        for place, start in enumerate(starts)
    ]


def periods() -> None:
    rows, year = listed(), Period(date(2025, 1, 1), date(2025, 12, 31))
    made = columns(rows)
    work: dict[str, Callable[[], object]] = {
        "as columns": lambda: columns(rows),
        "of one year": lambda: watched(made, year),
        "counted": lambda: counts(made, year),
    }
    for name, each in work.items():
        took = min(timed(each).own for _ in range(ROUNDS))
        print(table.line(f"{ROWS:,} rows of waits, no two alike", name, f"{took * 1000:,.1f}", ""))


def main(count: int) -> None:
    warnings.simplefilter("ignore")
    of, late = invented(count), invented(count, late=True)
    compare_answers(of)
    print(f"{count:,} waits of up to {LONGEST} days" + ("" if IS_THERE else f". {MISSING}") + "\n")
    print(table.head("Work", "By", "Milliseconds", "Times ours"))
    side_by_side("Kaplan-Meier with Greenwood's error and log-log limits", curves(of))
    side_by_side("the same, a third of them watched late", late_curves(late))
    side_by_side("Aalen-Johansen, three ends", ends(of))
    side_by_side("log-rank of two groups", groups(of))
    periods()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
