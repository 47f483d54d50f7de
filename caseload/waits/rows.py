"""Waits as they are counted: alike ones in one row, and the columns that the sums are made of."""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Days = NDArray[np.int64]


class Row(NamedTuple):
    """`number` waits that are alike in everything that is counted.

    `entered_on`: they were waiting elsewhere before and came to us on that day. `stopped_on` is None and `ended`
    "waiting" while they wait. `due_on` is the last day within the target, None where there is no target.
    """

    started_on: date
    stopped_on: date | None
    ended: str
    entered_on: date | None = None
    due_on: date | None = None
    number: int = 1


class Waits(NamedTuple):
    """Waits as columns of equal length: whole days from 0.

    `days` is the day of the wait on which it stopped, or how long it has been; `entered` the day from which it was
    watched (0 for most): somebody who arrives on day e can be seen on day e. `ended` is a place in `words`, of which
    the first two are "waiting" and "seen", all further ones competing ends; `number` is how many such waits there are.
    """

    days: Days
    ended: Days
    entered: Days
    number: Days
    words: tuple[str, ...]


class Period(NamedTuple):
    """Both days belong to it."""

    first: date
    last: date

    @property
    def before(self) -> "Period":
        """As many days just before it; of whole calendar months, as many months."""
        raise NotImplementedError


def watched(rows: Sequence[Row], period: Period) -> Waits:
    """The waits of a period, as they could be seen in it.

    Whoever waited on a day of the period is in it: who began before it is watched from its first day on (delayed
    entry, with the days waited already), and who still waits at its end counts as still waiting. So the figures of a
    month that is over move only when something is entered late.
    """
    raise NotImplementedError
