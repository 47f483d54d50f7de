"""What will fall due of hands that are not operated yet, from the recent rate of surgery, with an interval.

Operations come one by one, so the number of a week is taken as Poisson. Its rate is not known either: after so many in
so many weeks, with Jeffreys' prior, the number in the weeks ahead is negative binomial. From memory (Gelman and others,
Bayesian Data Analysis, section 2.6). It knows of no holiday season and no new surgeon: a question, not a promise.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from math import exp, lgamma, log, sqrt
from typing import Final, NamedTuple

from caseload.booking.room import Visit
from caseload.timetable.terms import FollowUpKind

METHOD: Final = "negative binomial prediction from the weekly number of operations (Poisson, Jeffreys' prior), 80 %"
SHARE: Final = 0.8
"""So often the number should lie in the interval."""

FAR: Final = 12
"""Standard deviations below the mean up to which nothing is added up: it would change no digit."""


class Pattern(NamedTuple):
    """`number` operations of the weeks behind us on one weekday (0 is Monday), each with a visit of so many slots from
    day `first` to day `last` after surgery."""

    weekday: int
    kinds: frozenset[FollowUpKind]
    first: int
    last: int
    slots: int
    site: int
    number: int


class Interval(NamedTuple):
    mean: float
    lower: int
    upper: int


def predicted(number: int, weeks: float, ahead: float, share: float = SHARE) -> Interval:
    """How many operations are to be expected in `ahead` weeks after `number` in `weeks` weeks (both above 0)."""
    shape, chance = number + 0.5, weeks / (weeks + ahead)
    mean = shape * ahead / weeks
    count = max(0, int(mean - FAR * sqrt(mean / chance)))
    tail, total, lower = (1 - share) / 2, 0.0, None
    while True:
        total += _probability(count, shape, chance)
        if lower is None and total > tail:
            lower = count
        if total >= 1 - tail:
            return Interval(mean, lower or 0, count)
        count += 1


def _probability(count: int, shape: float, chance: float) -> float:
    """Negative binomial: exactly `count` failures before a (fractional) number of successes."""
    ways = lgamma(count + shape) - lgamma(shape) - lgamma(count + 1)
    return exp(ways + shape * log(chance) + count * log(1 - chance))


def visits_expected(
    patterns: Iterable[Pattern], weeks: float, days: Sequence[date], *, scale: float = 1.0
) -> tuple[Visit, ...]:
    """The visits of operations to come on `days`, as many as on such weekdays before, times `scale`.

    Fractions are carried from day to day, so that the numbers of the whole stretch are right.
    """
    found: dict[Visit, int] = defaultdict(int)
    for pattern in patterns:
        for on, number in _spread(pattern, weeks, days, scale):
            first, last = on + timedelta(days=pattern.first), on + timedelta(days=pattern.last)
            found[Visit(pattern.kinds, first, last, pattern.slots, pattern.site, 0, True)] += number
    return tuple(visit._replace(number=number) for visit, number in found.items())


def _spread(pattern: Pattern, weeks: float, days: Sequence[date], scale: float) -> Iterator[tuple[date, int]]:
    rate, carried = pattern.number / weeks * scale, 0.5
    for on in days:
        if on.weekday() == pattern.weekday:
            carried += rate
            whole = int(carried)
            carried -= whole
            if whole:
                yield on, whole
