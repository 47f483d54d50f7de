"""Whether waits got better or worse from one period to the next: counting everybody who waited, and only who was seen.

The two can point in opposite directions: while the long waits stay open, those who were seen waited a short time.
"""

from enum import StrEnum
from math import inf
from typing import NamedTuple

from caseload.waits.figures import Day, Group, Share, Summary


class Verdict(StrEnum):
    BETTER = "better"
    WORSE = "worse"
    SAME = "same"
    UNSAID = "unsaid"


class Measure(StrEnum):
    MEDIAN = "median"
    CENTILE_92 = "centile-92"
    WITHIN = "within"


class Line(NamedTuple):
    """One measure in the period before and now: days, or a share between 0 and 1. None: cannot be said, infinite: not
    reached."""

    before: float | None
    now: float | None
    verdict: Verdict


class Pair(NamedTuple):
    """One measure both ways: `truth` counts everybody who waited, `completed` only who was seen."""

    measure: Measure
    truth: Line
    completed: Line

    @property
    def differs(self) -> bool:
        said = {self.truth.verdict, self.completed.verdict}
        return len(said) == 2 and Verdict.UNSAID not in said


def pairs(now: Summary, before: Summary) -> tuple[Pair, ...]:
    """In the order of `Measure`; without the share within target where the clock has none.

    A change that would not show in tenths of a day or in whole per cent is none.
    """
    found = [
        Pair(
            Measure.MEDIAN,
            _days(reached(before, before.median), reached(now, now.median)),
            _days(before.completed_median, now.completed_median),
        ),
        Pair(
            Measure.CENTILE_92,
            _days(reached(before, before.centile_92), reached(now, now.centile_92)),
            _days(before.completed_92, now.completed_92),
        ),
    ]
    if now.within is not None:
        completed = _shares(before.within_completed, now.within_completed)
        found.append(Pair(Measure.WITHIN, _shares(before.within, now.within), completed))
    return tuple(found)


def reached(of: Summary | Group, day: Day) -> int | float | None:
    """A day of a curve: None where there is no curve, infinite where it is not reached."""
    if of.refused:
        return None
    return inf if day.day is None else day.day


def _days(before: float | None, now: float | None) -> Line:
    """Fewer are better."""
    if before is None or now is None or before == now == inf:
        return Line(before, now, Verdict.UNSAID)
    return Line(before, now, _verdict(-round(before, 1), -round(now, 1)))


def _shares(before: Share | None, now: Share | None) -> Line:
    was, is_now = (share and share.share for share in (before, now))
    if was is None or is_now is None:
        return Line(was, is_now, Verdict.UNSAID)
    return Line(was, is_now, _verdict(round(100 * was), round(100 * is_now)))


def _verdict(before: float, now: float) -> Verdict:
    if before == now:
        return Verdict.SAME
    return Verdict.BETTER if now > before else Verdict.WORSE
