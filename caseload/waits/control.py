"""Is it getting worse, or is it chance? Control charts of what comes week by week, with two rules and no more.

A point is a question when it lies beyond the limits, or is the eighth in a row (or later) on one side of the mean
(Western Electric, Statistical Quality Control Handbook, 1956, from memory; Nelson, J Qual Technol 1984;16:238, waits
for the ninth). Charts: individual values and moving range, NIST/SEMATECH e-Handbook 6.3.2.2; proportions, 6.3.3.2.

Assumes that the points do not lean on one another: chart who was seen or fell due in a week, not how long a list is.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Final, NamedTuple

from caseload.waits.terms import Side, Signal

METHOD_SHARES: Final = (
    "p-chart: three standard errors of each point's own size around the share of all; "
    "a question is one point beyond the limits, or the eighth in a row on one side"
)
METHOD_INDIVIDUALS: Final = (
    "XmR chart: 2.66 mean moving ranges around the mean; "
    "a question is one point beyond the limits, or the eighth in a row on one side"
)

TO_LIMITS: Final = 2.66
"""Mean moving range to three standard deviations: 3 / d2 with d2 = 1.128, the printed table's value for two. Exactly d2
is 2 / sqrt(pi) and this 2.6587; the printed constant is what clinics check by hand, and differs in the fourth digit."""
RUN: Final = 8
_ALIKE: Final = 1e-12


class Limits(NamedTuple):
    lower: float
    upper: float


class Individuals(NamedTuple):
    """Limits and mean range are None of fewer than two values, the mean of none."""

    mean: float | None
    limits: Limits | None
    mean_range: float | None


class Shares(NamedTuple):
    """`mean` is the share of all together, None of nothing; `limits` one pair a point, None where it is of none."""

    mean: float | None
    limits: tuple[Limits | None, ...]


def individuals(values: Sequence[float]) -> Individuals:
    """XmR: mean +/- 2.66 times the mean moving range. Not cut at 0."""
    if not values:
        return Individuals(None, None, None)
    mean = sum(values) / len(values)
    if len(values) == 1:
        return Individuals(mean, None, None)
    ranges = [abs(after - before) for before, after in zip(values, values[1:], strict=False)]
    mean_range = sum(ranges) / len(ranges)
    half = TO_LIMITS * mean_range
    return Individuals(mean, Limits(mean - half, mean + half), mean_range)


def shares(counts: Sequence[tuple[int, int]]) -> Shares:
    """p-chart of (number, of): the share of all, and three standard errors of each point's own size; cut at 0 and 1."""
    total = sum(of for _, of in counts)
    if total == 0:
        return Shares(None, (None,) * len(counts))
    mean = sum(number for number, _ in counts) / total
    spread = 3 * sqrt(mean * (1 - mean))
    return Shares(mean, tuple(_cut(mean, spread / sqrt(of)) if of else None for _, of in counts))


def _cut(mean: float, half: float) -> Limits:
    return Limits(max(0.0, mean - half), min(1.0, mean + half))


def signals(
    values: Sequence[float | None], mean: float | None, limits: Sequence[Limits | None]
) -> tuple[Signal | None, ...]:
    """What each point says, beyond the limits first. A point on the mean is on neither side and ends a run; one that is
    None says nothing: the run goes on over it."""
    found: list[Signal | None] = []
    run, last = 0, None
    for value, around in zip(values, limits, strict=True):
        if value is None or mean is None:
            found.append(None)
            continue
        side = _side(value, mean)
        run = run + 1 if side is last and side else int(side is not None)
        last = side
        found.append(Signal.BEYOND if _is_beyond(value, around) else Signal.RUN if run >= RUN else None)
    return tuple(found)


def _side(value: float, mean: float) -> Side | None:
    if abs(value - mean) <= _ALIKE * max(1.0, abs(mean)):
        return None
    return Side.ABOVE if value > mean else Side.BELOW


def _is_beyond(value: float, around: Limits | None) -> bool:
    """A point on its limit is not beyond it."""
    if around is None:
        return False
    nearly = _ALIKE * max(1.0, abs(value))
    return value > around.upper + nearly or value < around.lower - nearly
