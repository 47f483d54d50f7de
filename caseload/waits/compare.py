"""Whether groups wait differently by more than chance: the log-rank test.

On each day on which somebody is seen, each group would have had its share of them by how many of it are at risk. The
test weighs all days alike, so it sees best where one group is slower throughout, and little where curves cross. A small
p asks a question; it does not say why, nor by how much.

Mantel, Cancer Chemother Rep 1966; 50: 163; Peto and Peto, J R Stat Soc A 1972; 135: 185. Both from memory.
"""

from collections.abc import Mapping
from math import erfc, exp, fsum, lgamma, log, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from caseload.waits.figures import Compared
from caseload.waits.rows import SEEN, Days
from caseload.waits.survival import ByDay, share_of

METHOD: Final = "log-rank test with hypergeometric variance (Mantel)"

Sums = NDArray[np.float64]

UNDECIDED: Final = 1e-12
"""Directions in which the variance is less than this part of the largest can tell no groups apart."""


def log_rank(groups: Mapping[str, ByDay]) -> Compared:
    """Waits of each group counted by day; late entries as in `survival.tally`.

    A group that has nobody at risk on any day on which somebody was seen adds nothing, and no degree of freedom. Where
    fewer than two groups are left, nothing is compared: chi-square 0 on 0 degrees, p = 1.
    """
    at_risk, seen = _side_by_side(groups)
    everybody, all_seen = at_risk.sum(axis=0), seen.sum(axis=0)
    shares = at_risk / everybody
    expected = shares @ all_seen
    weights = share_of(all_seen * (everybody - all_seen), everybody - 1)
    variance = np.diag(shares @ weights) - (shares * weights) @ shares.T
    chi_square, degrees = _distance(seen.sum(axis=1) - expected, variance)
    return Compared(
        chi_square,
        degrees,
        chance_beyond(chi_square, degrees),
        dict(zip(groups, seen.sum(axis=1).tolist(), strict=True)),
        dict(zip(groups, expected.tolist(), strict=True)),
    )


def _side_by_side(groups: Mapping[str, ByDay]) -> tuple[Days, Days]:
    """At risk and seen, both of shape (groups, days), on the days on which anybody was seen."""
    days = max((len(group.at_risk) for group in groups.values()), default=1)
    at_risk, seen = np.zeros((2, len(groups), days), np.int64)
    for place, group in enumerate(groups.values()):
        at_risk[place, : len(group.at_risk)] = group.at_risk
        seen[place, : len(group.at_risk)] = group.ended[SEEN]
    event = seen.any(axis=0)
    return at_risk[:, event], seen[:, event]


def _distance(excess: Sums, variance: Sums) -> tuple[float, int]:
    """The excess squared over its variance, and in how many directions there is any (groups less one, as a rule)."""
    if not variance.any():
        return 0.0, 0
    sizes, directions = np.linalg.eigh(variance)
    apart = sizes > UNDECIDED * sizes[-1]
    along = directions[:, apart].T @ excess
    return float((along**2 / sizes[apart]).sum()), int(apart.sum())


def chance_beyond(chi_square: float, degrees: int) -> float:
    """How often chance alone gives at least this chi-square: Q(degrees / 2, chi_square / 2), the regularised upper
    incomplete gamma function, whose recurrence in steps of one ends after whole degrees (Abramowitz and Stegun 26.4.4
    and 26.4.5, from memory)."""
    half = chi_square / 2
    if half <= 0 or degrees == 0:
        return 1.0
    odd = degrees % 2
    terms = (place + odd / 2 for place in range(degrees // 2))
    chances = (exp(term * log(half) - half - lgamma(term + 1)) for term in terms)
    return min(1.0, fsum((erfc(sqrt(half)) if odd else 0.0, *chances)))
