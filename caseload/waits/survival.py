"""How long people wait, with those who still wait counted in: the curve of Kaplan and Meier and what is read off it.

Waits are whole days, so everything is counted by day first (`tally`); after that a million waits are as quick as ten.
At risk on day t are those who are watched on it: entered <= t <= days. Whoever stopped being watched on the day on
which somebody else was seen still counts as at risk on it, and competing ends count here as no longer watched.

Kaplan and Meier, J Am Stat Assoc 1958; 53: 457. Greenwood, Reports on Public Health 1926; 33. Brookmeyer and Crowley,
Biometrics 1982; 38: 29. Limits on the log-log scale: Kalbfleisch and Prentice 1980. All from memory.
"""

from collections.abc import Iterator
from datetime import date
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.waits.figures import Day, Step, Tail
from caseload.waits.proportion import Z_95
from caseload.waits.rows import SEEN, Days, Waits
from caseload.waits.terms import FEWEST

Shares = NDArray[np.float64]

METHOD: Final = "Kaplan-Meier; standard error by Greenwood; 95 % limits on the log-log scale"
METHOD_CENTILE: Final = (
    "first day on which the Kaplan-Meier curve is at or below the share still waiting; "
    "95 % limits by Brookmeyer and Crowley from the log-log limits of the curve"
)
METHOD_MEAN: Final = "area under the Kaplan-Meier curve up to a day (restricted mean)"

MEDIAN: Final = 0.5
NINETY_SECOND: Final = 0.92

ALIKE: Final = 1e-12
"""Shares that differ by less are the same: sums of floating point miss an exact half by a little."""

LONGEST: Final = date.max.toordinal()
"""A wait of more days than the calendar has is a slip of the pen, and counting by day would fill the memory."""

PART: Final = 1 << 15
"""Rows that are counted at a time, at least: they stay close to the processor, and need no fresh memory."""

SPACINGS: Final = (1, 2, 7, 14, 28)


class ByDay(NamedTuple):
    """Counts by day of the wait, from day 0 to the longest.

    `at_risk`, of shape (days,): how many are watched on a day. `ended`, of shape (words, days): how many stopped on it,
    by the place of the word in `words`; the first row is of those who were no longer watched while still waiting.
    """

    at_risk: Days
    ended: Days
    words: tuple[str, ...]


class Curve(NamedTuple):
    """The estimate on each day from 0 to the longest, all of shape (days,).

    `still_waiting` is the share that would be waiting after the day, `se` its standard error, `lower` and `upper` its
    95 % limits. Before anybody is seen all are waiting, and the limits are 1. Where the curve is at 0 Greenwood says
    nothing: the standard error is 0, the lower limit is 0, and the upper one stays where it was.
    """

    at_risk: Days
    seen: Days
    still_waiting: Shares
    se: Shares
    lower: Shares
    upper: Shares

    @property
    def last_day(self) -> int:
        return len(self.at_risk) - 1


class Estimate(NamedTuple):
    """A share read off the curve, with its 95 % limits."""

    share: float
    lower: float
    upper: float


def tally(waits: Waits) -> ByDay:
    """Waits counted by day. ValueError where one stopped before it was watched, or is longer than the calendar."""
    longest = int(waits.days.max(initial=0))
    if longest > LONGEST:
        raise ValueError(f"A wait lasts {LONGEST} days at most.")
    words, days = len(waits.words), longest + 1
    ended, came = np.zeros(days * words, np.int64), np.zeros(days, np.int64)
    for part in _parts(waits, max(PART, days * words)):
        ended += _counted(part.days * words + part.ended, part.number, days * words)
        came += _came(part, days)
    by_word = ended.reshape(days, words).T
    at_risk = np.cumsum(came)
    at_risk[1:] -= np.cumsum(by_word.sum(axis=0))[:-1]
    return ByDay(at_risk, by_word, waits.words)


def _parts(waits: Waits, size: int) -> Iterator[Waits]:
    for first in range(0, len(waits.days), size):
        those = slice(first, first + size)
        yield Waits(waits.days[those], waits.ended[those], waits.entered[those], waits.number[those], waits.words)


def _came(part: Waits, days: int) -> Days:
    """How many are watched from each day on: all of them from day 0, as a rule."""
    if part.entered.any():
        if np.any(part.entered > part.days):
            raise ValueError("A wait stops on the day on which it is first watched at the earliest.")
        return _counted(part.entered, part.number, days)
    came = np.zeros(days, np.int64)
    came[0] = part.number.sum()
    return came


def _counted(places: Days, number: Days, size: int) -> Days:
    """How many of each place. Weights are counted as floating point, exact to 2 ** 53."""
    if np.all(number == 1):
        return np.bincount(places, minlength=size)
    return np.bincount(places, weights=number, minlength=size).astype(np.int64)


def kaplan_meier(by_day: ByDay) -> Curve:
    at_risk, seen = by_day.at_risk, by_day.ended[SEEN]
    still_waiting: Shares = np.cumprod(1 - share_of(seen, at_risk), dtype=np.float64)
    # Greenwood's sum, without a day on which everybody at risk is seen: the curve is 0 from then on.
    spread: Shares = np.sqrt(np.cumsum(share_of(seen, at_risk * (at_risk - seen)), dtype=np.float64))
    return Curve(at_risk, seen, still_waiting, still_waiting * spread, *_log_log_limits(still_waiting, spread))


def share_of(part: Days, whole: Days) -> Shares:
    """Day by day, and 0 where there is nothing to divide by."""
    return np.divide(part, whole, out=np.zeros(len(whole)), where=whole > 0)


def _log_log_limits(still_waiting: Shares, spread: Shares) -> tuple[Shares, Shares]:
    """Of shape (days,) each: S ** exp(± z · spread / log S)."""
    lower, upper = still_waiting.copy(), still_waiting.copy()
    between = (still_waiting > 0) & (still_waiting < 1)
    inside = still_waiting[between]
    reach = np.exp(Z_95 * spread[between] / -np.log(inside))
    lower[between], upper[between] = inside**reach, inside ** (1 / reach)
    emptied = np.count_nonzero(still_waiting)
    upper[emptied:] = upper[emptied - 1] if emptied else 1
    return lower, upper


def steps(curve: Curve) -> tuple[Step, ...]:
    """The days on which somebody was seen, as published tables have them."""
    days = np.flatnonzero(curve.seen)
    return tuple(map(Step, days.tolist(), *(column[days].tolist() for column in curve)))


def centile(curve: Curve, seen: float) -> Day:
    """The first day by which a share of 0 to 1 has been seen, with the days on which its limits pass that share."""
    waiting = 1 - seen + ALIKE
    return Day(*(_first(limit <= waiting) for limit in (curve.still_waiting, curve.lower, curve.upper)))


def _first(days: NDArray[np.bool_]) -> int | None:
    first = int(days.argmax())
    return first if days[first] else None


def waiting_after(curve: Curve, day: int) -> Estimate | None:
    """The share still waiting after a day; None where nobody was watched so long and not everybody was seen."""
    if day > curve.last_day and curve.still_waiting[-1]:
        return None
    on = min(day, curve.last_day)
    return Estimate(float(curve.still_waiting[on]), float(curve.lower[on]), float(curve.upper[on]))


def seen_by(curve: Curve, day: int) -> Estimate | None:
    """The share seen by the end of a day; None as in `waiting_after`."""
    waiting = waiting_after(curve, day)
    return None if waiting is None else Estimate(1 - waiting.share, 1 - waiting.upper, 1 - waiting.lower)


def restricted_mean(curve: Curve, to: int | None = None) -> float | None:
    """The mean number of days waited until day `to`, by default the last on which anybody was watched; None as in
    `waiting_after`."""
    to = curve.last_day if to is None else to
    if to > curve.last_day and curve.still_waiting[-1]:
        return None
    return float(curve.still_waiting[:to].sum())


def at_risk_on(curve: Curve, days: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """(day, how many are watched on it), for the row of numbers under a curve."""
    return tuple((day, int(curve.at_risk[day]) if day <= curve.last_day else 0) for day in days)


def left_unseen(by_day: ByDay) -> tuple[tuple[int, int], ...]:
    """(day, how many stopped being watched on it without being seen), for the marks on a curve."""
    left = by_day.ended.sum(axis=0) - by_day.ended[SEEN]
    days = np.flatnonzero(left)
    return tuple(zip(days.tolist(), left[days].tolist(), strict=True))


def regular_days(last_day: int, at_most: int = 8) -> tuple[int, ...]:
    """Evenly spaced days from 0 that cover a curve: every day, every second, or whole weeks apart."""
    spacing = next((each for each in SPACINGS if last_day < each * at_most), 0)
    spacing = spacing or SPACINGS[-1] * -(-(last_day + 1) // (SPACINGS[-1] * at_most))
    return tuple(range(0, last_day + 1, spacing))


def tail(curve: Curve) -> Tail:
    """Where the curve is not to be trusted: see `figures.Tail`."""
    many = np.flatnonzero(curve.at_risk >= FEWEST)
    thin_from = int(many[-1]) + 1 if len(many) else 0
    shaky = np.flatnonzero((curve.seen > 0) & (curve.at_risk < FEWEST))
    shaky = shaky[shaky < thin_from]
    emptied = _first(curve.still_waiting == 0)
    return Tail(
        last_day=curve.last_day,
        thin_from=thin_from if thin_from <= curve.last_day else None,
        shaky_until=int(shaky[-1]) if len(shaky) else None,
        emptied_on=emptied if emptied is not None and emptied < curve.last_day else None,
    )
