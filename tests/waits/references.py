"""The same estimates by lifelines, statsmodels and scipy.

Importing these takes seconds, so tests import this module only when they run. The libraries count somebody who enters
at a time as at risk after it, we on that very day: they are told of half a day earlier.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
from lifelines import AalenJohansenFitter, KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test
from lifelines.utils import restricted_mean_survival_time
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from caseload.waits.rows import Waits


def _entry(of: Waits) -> Any:
    return of.entered - 0.5 if of.entered.any() else None


def lifelines_curve(of: Waits) -> KaplanMeierFitter:
    """Its limits are those on the log-log scale."""
    return KaplanMeierFitter().fit(of.days, of.ended == 1, entry=_entry(of))


def lifelines_mean(of: Waits, to: int) -> float:
    return float(restricted_mean_survival_time(lifelines_curve(of), to))


def statsmodels_curve(of: Waits) -> SurvfuncRight:
    return SurvfuncRight(of.days, (of.ended == 1).astype(int), entry=_entry(of))


def scipy_curve(of: Waits) -> Any:
    """It knows of no late entry."""
    seen = of.ended == 1
    return stats.ecdf(stats.CensoredData(uncensored=of.days[seen], right=of.days[~seen])).sf


def lifelines_reached(of: Waits, place: int) -> Any:
    """The share that ended so by each day; no two may end on one day, because it moves ties apart by chance."""
    fitted = AalenJohansenFitter(calculate_variance=False).fit(of.days, of.ended, place, entry=_entry(of))
    return fitted.cumulative_density_


def _together(groups: Mapping[str, Waits]) -> tuple[Any, Any, Any, list[str]]:
    days, seen, entry = (
        np.concatenate([each(of) for of in groups.values()])
        for each in (lambda of: of.days, lambda of: (of.ended == 1).astype(int), lambda of: of.entered - 0.5)
    )
    return days, seen, entry, [name for name, of in groups.items() for _ in of.days]


def lifelines_log_rank(groups: Mapping[str, Waits]) -> tuple[float, float]:
    """It knows of no late entry."""
    days, seen, _, names = _together(groups)
    found = multivariate_logrank_test(days, names, seen)
    return float(found.test_statistic), float(found.p_value)


def statsmodels_log_rank(groups: Mapping[str, Waits]) -> tuple[float, float]:
    days, seen, entry, names = _together(groups)
    found = survdiff(days, seen, np.array(names), entry=entry)
    return float(found[0]), float(found[1])
