"""How waits end where they can end in more than one way: the estimate of Aalen and Johansen.

What is still waiting and what has ended, by word, make up the whole on every day. Reading the share that was discharged
unseen off a Kaplan-Meier curve of its own would overstate it: that takes those who were seen for still at risk.

Aalen and Johansen, Scand J Stat 1978; 5: 141, from memory. Late entries as in `survival.tally`.
"""

from typing import Final, NamedTuple

import numpy as np

from caseload.waits.figures import Reached
from caseload.waits.rows import SEEN, Days
from caseload.waits.survival import ByDay, Shares, share_of

METHOD: Final = "Aalen-Johansen cumulative incidence"


class Incidence(NamedTuple):
    """Day by day from 0: `still_waiting`, of shape (days,), and `reached`, of shape (words, days), the share that has
    ended by word; together 1. `ended` are the counts behind it. `words` begins with "seen"."""

    still_waiting: Shares
    reached: Shares
    ended: Days
    words: tuple[str, ...]


def aalen_johansen(by_day: ByDay) -> Incidence:
    ended = by_day.ended[SEEN:]
    still_waiting: Shares = np.cumprod(1 - share_of(ended.sum(axis=0), by_day.at_risk), dtype=np.float64)
    before = np.concatenate(([1.0], still_waiting[:-1]))
    reached: Shares = np.cumsum(ended * share_of(before, by_day.at_risk), axis=1, dtype=np.float64)
    return Incidence(still_waiting, reached, ended, by_day.words[SEEN:])


def incidence(found: Incidence) -> dict[str, tuple[Reached, ...]]:
    """By word the days on which somebody ended so; no word where nobody did."""
    return {word: curve for place, word in enumerate(found.words) if (curve := _curve(found, place))}


def _curve(found: Incidence, place: int) -> tuple[Reached, ...]:
    days = np.flatnonzero(found.ended[place])
    return tuple(map(Reached, days.tolist(), found.reached[place, days].tolist()))
