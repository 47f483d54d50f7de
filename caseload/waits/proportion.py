"""Shares and how sure they are; the band that chance leaves around the share of all; quantiles of plain lists.

Assumes that one person's wait says nothing of the next one's. Sources, all from memory: Wilson, J Am Stat Assoc 1927;
22:209, as compared by Newcombe, Stat Med 1998;17:857 (method 3); Spiegelhalter, Stat Med 2005;24:1185 (funnel plots,
exact binomial limits, interpolated as in its appendix); Hyndman and Fan, Am Stat 1996;50:361 (quantiles, type 7).
"""

from collections.abc import Sequence
from functools import lru_cache
from math import ceil, sqrt
from statistics import NormalDist
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.waits.figures import Share
from caseload.waits.rows import Days

METHOD: Final = "Wilson score interval, 95 %, without correction for continuity"
METHOD_QUANTILE: Final = "quantile of a plain list, Hyndman and Fan's type 7"
METHOD_FUNNEL: Final = (
    "exact binomial limits of 95 % and 99.8 % around the share of all, drawn as interpolated by Spiegelhalter; "
    "a group is beyond them where so many, or more so, come about by chance in less than 2.5 % or 0.1 %"
)

Z_95: Final = NormalDist().inv_cdf(0.975)


class Band(NamedTuple):
    """Limits of a share, each between 0 and 1: 95 % inside, 99.8 % outside."""

    lower_95: float
    upper_95: float
    lower_998: float
    upper_998: float


def wilson(number: int, of: int) -> Share:
    """The share with Wilson's score interval of 95 %, without correction for continuity; all None of nothing."""
    if of == 0:
        return Share(number, of, None, None, None)
    share, spread = number / of, Z_95 * Z_95 / of
    middle = share + spread / 2
    half = sqrt(spread * (share * (1 - share) + spread / 4))
    lower = 0.0 if number == 0 else (middle - half) / (1 + spread)
    upper = 1.0 if number == of else (middle + half) / (1 + spread)
    return Share(number, of, share, lower, upper)


@lru_cache(maxsize=8192)
def band(size: int, share: float) -> Band:
    """Where a group of `size` would lie if its true share were `share`: exact binomial limits of 95 % and 99.8 %.

    Interpolated between whole numbers (Spiegelhalter 2005, appendix): with r the least number whose cumulated
    probability F(r) reaches q, the limit is (r - (F(r) - q) / (F(r) - F(r - 1))) / size, cut at 0 and 1. That is a line
    to be drawn: the upper one lies up to one person too low to judge by, which `chance` does.
    """
    if size == 0:
        return Band(0.0, 1.0, 0.0, 1.0)
    if share in (0, 1):
        return Band(share, share, share, share)
    first, mass = _binomial(size, share)
    reached = np.cumsum(mass)
    quantiles = np.array([0.025, 0.975, 0.001, 0.999])
    place = np.searchsorted(reached, quantiles)
    limits = (first + place - (reached[place] - quantiles) / mass[place]) / size
    return Band(*np.clip(limits, 0, 1).tolist())


def chance(number: int, size: int, share: float) -> float:
    """How likely a group of `size` with a true share of `share` has so many, or more so on the same side of the mean.

    Twenty-two of 22 where 92 in a hundred are the rule is nothing strange (0.17), though it lies on the edge.
    """
    if share in (0, 1):
        return 1.0 if number == size * share else 0.0
    first, mass = _binomial(size, share)
    place = number - first
    return float((mass[: max(0, place + 1)] if number < size * share else mass[max(0, place) :]).sum())


def _binomial(size: int, share: float) -> tuple[int, NDArray[np.float64]]:
    """The first number that is not all but impossible, and the probabilities from there on.

    Summed as logarithms of the ratio of each to the one before it, so that no size overflows.
    """
    reach = int(10 * sqrt(size * share * (1 - share))) + 30
    first, last = max(0, int(size * share) - reach), min(size, int(size * share) + reach)
    numbers = np.arange(first + 1, last + 1)
    ratios = np.log((size + 1 - numbers) / numbers) + np.log(share / (1 - share))
    logs = np.concatenate(([0.0], np.cumsum(ratios)))
    mass = np.exp(logs - logs.max())
    return first, mass / mass.sum()


def quantile(values: Days, numbers: Days, share: float) -> float | None:
    """The value below which a share lies, of whole values that each stand for a number of alike ones; None of nothing.

    Type 7: at place (n - 1) * share, counted from 0, in a straight line between the two values beside it.
    """
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(numbers[order])
    if reached.size == 0 or reached[-1] == 0:
        return None
    place = (int(reached[-1]) - 1) * share
    low, high = values[order][np.searchsorted(reached, [int(place), ceil(place)], side="right")].tolist()
    return float(low + (high - low) * (place - int(place)))


def dispersion(groups: Sequence[tuple[int, int]], overall: float) -> float | None:
    """Chi-square of (number, of) each against the share of all, over its degrees of freedom, one less than groups.

    About 1 if groups differ by chance only. None of fewer than two groups, or where the share of all is 0 or 1.
    """
    counted = [(number, of) for number, of in groups if of]
    if len(counted) < 2 or overall in (0, 1):
        return None
    chi_square = sum((number - of * overall) ** 2 / of for number, of in counted) / (overall * (1 - overall))
    return chi_square / (len(counted) - 1)
