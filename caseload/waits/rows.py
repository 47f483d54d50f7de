"""Waits as they are counted: alike ones in one row, and the columns that the sums are made of."""

from calendar import monthrange
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.waits.terms import End

Days = NDArray[np.int64]
Chosen = NDArray[np.bool_]

STANDING: Final = (End.WAITING.value, End.SEEN.value)
WAITING: Final = 0
SEEN: Final = 1
"""Places in `words`; from 2 on they are competing ends."""

OPEN: Final = date.max.toordinal() + 1
"""Stands for the day of a stop that has not come: later than any day there is."""

NO_TARGET: Final = 0
"""Stands for the last day within a target where there is none: earlier than any day there is."""


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


class Columns(NamedTuple):
    """Rows as columns of equal length, with days as ordinals: made once, and asked for one period after another.

    `came` is the day from which they waited with us: when the wait began, or when they came from elsewhere. `stopped`
    may be `OPEN`, `due` may be `NO_TARGET`. `ended` is a place in `words`, as in `Waits`.
    """

    started: Days
    came: Days
    stopped: Days
    due: Days
    ended: Days
    number: Days
    words: tuple[str, ...]


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


class Counts(NamedTuple):
    """at_start + began = seen + all competing + waiting.

    `at_start` waited with us when the period began; `began` in it, or came to us in it from elsewhere.
    """

    at_start: int
    began: int
    seen: int
    competing: dict[str, int]
    waiting: int


class Period(NamedTuple):
    """Both days belong to it."""

    first: date
    last: date

    @property
    def ordinals(self) -> tuple[int, int]:
        return self.first.toordinal(), self.last.toordinal()

    @property
    def before(self) -> "Period":
        """As many days just before it; of whole calendar months, as many months."""
        last = self.first - timedelta(days=1)
        months = self.whole_months
        if months:
            return Period(months_earlier(self.first, months), last)
        return Period(self.first - (self.last - last), last)

    @property
    def whole_months(self) -> int:
        """How many calendar months it is made of; 0 where it is not made of whole ones."""
        ends_a_month = self.last.day == monthrange(self.last.year, self.last.month)[1]
        if self.first.day != 1 or not ends_a_month:
            return 0
        return (self.last.year - self.first.year) * 12 + self.last.month - self.first.month + 1


def months_earlier(first: date, months: int) -> date:
    """The first day of a month that lies so many months before the one that begins with `first`."""
    year, month = divmod(first.year * 12 + first.month - 1 - months, 12)
    return date(year, month + 1, 1)


def coded(ended: Sequence[str]) -> tuple[Days, tuple[str, ...]]:
    """How waits ended as places in words: "waiting", "seen", then the competing ends there are, by the alphabet."""
    words = (*STANDING, *sorted(set(ended).difference(STANDING)))
    places = {word: place for place, word in enumerate(words)}
    return np.fromiter(map(places.__getitem__, ended), np.int64, len(ended)), words


def columns(rows: Sequence[Row]) -> Columns:
    """ValueError where a wait stopped before it began, or waits with a day of its stop, or stopped without one."""
    began = _ordinals((row.started_on for row in rows), OPEN)
    places, words = coded([row.ended for row in rows])
    found = Columns(
        started=began,
        came=np.maximum(began, _ordinals((row.entered_on for row in rows), 0)),
        stopped=_ordinals((row.stopped_on for row in rows), OPEN),
        due=_ordinals((row.due_on for row in rows), NO_TARGET),
        ended=places,
        number=np.array([row.number for row in rows], np.int64),
        words=words,
    )
    if np.any(found.stopped < began) or np.any((found.stopped == OPEN) != (places == WAITING)):
        raise ValueError("A wait stops on a day that is not before it began, and only one that stopped has ended.")
    return found


def chosen(all_of: Columns, those: Chosen) -> Columns:
    """Only the waits for which `those` is true."""
    return Columns(
        started=all_of.started[those],
        came=all_of.came[those],
        stopped=all_of.stopped[those],
        due=all_of.due[those],
        ended=all_of.ended[those],
        number=all_of.number[those],
        words=all_of.words,
    )


def overlapping(all_of: Columns, period: Period) -> Columns:
    """Whoever waited with us on a day of the period. A wait that was over before they came to us was never ours."""
    first, last = period.ordinals
    return chosen(all_of, (all_of.came <= last) & (all_of.stopped >= np.maximum(all_of.came, first)))


def watched(all_of: Columns, period: Period) -> Waits:
    """The waits of a period, as they could be seen in it.

    Whoever waited on a day of the period is in it: who began before it is watched from its first day on (delayed
    entry, with the days waited already), and who still waits at its end counts as still waiting. So the figures of a
    month that is over move only when something is entered late.
    """
    first, last = period.ordinals
    there = overlapping(all_of, period)
    return Waits(
        days=np.minimum(there.stopped, last) - there.started,
        ended=_ended_by(there, last),
        entered=np.maximum(there.came, first) - there.started,
        number=there.number,
        words=there.words,
    )


def counts(all_of: Columns, period: Period) -> Counts:
    """How many waited at the start, began, ended by word, and still wait at the end of a period."""
    first, last = period.ordinals
    there = overlapping(all_of, period)
    numbers = np.zeros(len(there.words), np.int64)
    np.add.at(numbers, _ended_by(there, last), there.number)
    by_word = numbers.tolist()
    at_start = int(there.number[there.came < first].sum())
    return Counts(
        at_start=at_start,
        began=int(there.number.sum()) - at_start,
        seen=by_word[SEEN],
        competing={word: by_word[place] for place, word in enumerate(there.words) if place > SEEN and by_word[place]},
        waiting=by_word[WAITING],
    )


def _ended_by(there: Columns, last: int) -> Days:
    """How each stood at the end of the last day: what happened later is not known yet."""
    return np.where(there.stopped > last, WAITING, there.ended)


def _ordinals(days: Iterable[date | None], none: int) -> Days:
    return np.array([day.toordinal() if day else none for day in days], np.int64)
