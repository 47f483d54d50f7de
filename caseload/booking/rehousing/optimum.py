"""The best choice of places: one aim settled after the other, each proven.

Only places that can matter are written into the program. Prices of its rows, from the linear program, say which others
would help. Whatever they are, they bound every choice from below: a visit takes one place at most, so nobody saves more
than the most helpful place of each visit would (Lagrange; Geoffrion 1974, from memory). Once that bound, rounded up, is
the value of the program rounded up, no other place matters to it.

Whole numbers are then chosen among the places written down. While their value is above the bound, places that could
make up the difference are added, the most helpful first; when none is left, what is chosen is the best there is
(reduced-cost fixing; Dantzig, Fulkerson and Johnson 1954, from memory).
"""

from dataclasses import dataclass, field
from itertools import zip_longest
from math import ceil
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.booking.growing import Growing
from caseload.booking.rehousing.places import COST, LATE, MOVED, NOBODY, OUTSIDE, Diary
from caseload.booking.rehousing.program import Model, Settled
from caseload.booking.solver import Floats, Ints, solve

FIRST: Final = 100
"""Places of each lost visit to begin with."""
MORE: Final = 500
"""Places added at once to the linear program: few, since most of what helps no longer does once some of it is there."""
MORE_WHOLE: Final = 5_000
"""The same for whole numbers, to begin with."""
NONE: Final = 1e-7
"""Less than so much is nothing."""
AT_LEAST: Final = 1.0
"""Seconds for whole numbers, however late it is: without them nobody would have a place."""


class Choice(NamedTuple):
    """Places by their number; not `proven` where time was up before the proof."""

    places: Ints
    proven: bool


class _Bound(NamedTuple):
    """No choice has less than `least`; one that takes a place has `reduced` of it more."""

    least: float
    reduced: Floats


def best_choice(diary: Diary, limit: float) -> Choice:
    search = _Search(diary, Model(diary), limit)
    search.write_down(_to_begin_with(diary))
    aims = [aim for aim in diary.places.aims if aim.any()]
    for aim, then in zip_longest(aims, aims[1:]):
        search.settle(aim, then)
    return Choice(search.chosen, search.proven)


def _to_begin_with(diary: Diary) -> Ints:
    """The best places of each lost visit by itself."""
    visit, _, aims = diary.places
    lost = np.flatnonzero(np.array([each.held == NOBODY for each in diary.visits], bool)[visit])
    order = lost[np.lexsort((aims[COST, lost], aims[LATE, lost], aims[OUTSIDE, lost], visit[lost]))]
    turn = np.arange(len(order)) - np.searchsorted(visit[order], visit[order])
    return order[turn < FIRST]


@dataclass
class _Search:
    """`those` are the places written down and `written` marks them, `able` marks those that may still be chosen,
    `chosen` are the best ones so far, `left` the seconds that are."""

    diary: Diary
    model: Model
    left: float
    those: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    chosen: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    settled: list[Settled] = field(default_factory=list)
    proven: bool = True
    able: NDArray[np.bool_] = field(init=False)
    written: NDArray[np.bool_] = field(init=False)
    program: Growing = field(init=False)

    def __post_init__(self) -> None:
        count = len(self.diary.places.visit)
        self.able, self.written = np.ones(count, bool), np.zeros(count, bool)
        self.program = Growing(self.model.upper)

    def write_down(self, more: Ints) -> None:
        more = more[~self.written[more]]
        self.program.add_columns(self.model.columns(more, self.settled))
        self.those = np.concatenate([self.those, more])
        self.written[more] = True

    def settle(self, aim: Ints, then: Ints | None) -> None:
        """Make an aim as small as it can be with those before it as they are."""
        bound = self._bound(aim)
        hope = Settled(aim, ceil(bound.least - NONE))
        row = self.program.add_row(aim[self.those], hope.value)
        value = self._whole(aim, self.those)
        if then is not None and value > hope.value and self.left > 0:
            value = self._look_ahead(hope, then)
        value = self._choose(aim, bound, value)
        self.settled.append(Settled(aim, value))
        self.program.bound_row(row, value)
        self.write_down(self.chosen)
        self._strike_out(bound.reduced > value - bound.least + NONE)

    def _look_ahead(self, hope: Settled, then: Ints) -> int:
        """The value once that is written down which the next aim would like if this one came out as well as its bound.

        By itself an aim that most places add nothing to leaves open which of them go together.
        """
        self.settled.append(hope)
        self._bound(then, keep=self.left / 2)
        self.settled.pop()
        return self._whole(hope.aim, self.those)

    def _bound(self, aim: Ints, keep: float = 0.0) -> _Bound:
        """The best bound that the time allows, with so many seconds left."""
        best, upper = self._bound_of(0.0, aim.astype(float)), self._upper()
        while self.left > keep:
            price = self.program.ask(aim[self.those].astype(float), self.left - keep)
            self.left -= price.seconds
            reduced = self.model.reduced(aim, self.settled, price.prices)
            helpful = np.flatnonzero((reduced < -NONE) & self.able & ~self.written)
            best = max(best, self._bound_of(float(price.prices @ upper), reduced), key=lambda each: each.least)
            if not len(helpful) or ceil(best.least - NONE) >= ceil(price.least - NONE):
                break
            self.write_down(_first(helpful, reduced, MORE))
        return best

    def _upper(self) -> Floats:
        return np.concatenate([self.model.upper, [float(each.value) for each in self.settled]])

    def _bound_of(self, least: float, reduced: Floats) -> _Bound:
        """With the prices of visits lowered until no place helps."""
        visit = self.diary.places.visit
        begins = np.flatnonzero(np.diff(visit, prepend=-1))
        most = np.minimum.reduceat(np.where(self.able, np.minimum(reduced, 0.0), 0.0), begins)
        each = np.repeat(most, np.diff(np.append(begins, len(visit))))
        return _Bound(least + float(most.sum()), reduced - each)

    def _choose(self, aim: Ints, bound: _Bound, value: int) -> int:
        """The least value in whole numbers, over all places that could make it less than is found."""
        those, count = self.those, MORE_WHOLE
        while True:
            better = value - 1 - bound.least
            left_out = self.able & (bound.reduced < better + NONE) & (better > -NONE)
            left_out[those] = False
            more = np.flatnonzero(left_out)
            if not len(more) or self.left <= 0:
                self.proven &= not len(more)
                return value
            those = np.concatenate([those, _first(more, bound.reduced, count)])
            value, count = self._whole(aim, those), 4 * count

    def _whole(self, aim: Ints, those: Ints) -> int:
        """The least value of those places that are able. Of the first aim a step outweighs all moves there can be, but
        of choices alike one with few moves is looked for: what follows then begins near its end."""
        those = those[self.able[those]]
        upper, moved, most = self._upper(), self.diary.places.aims[MOVED, those], len(self.diary.visits)
        first = moved.any() and not self.settled
        cost, near = (2 * most * aim[those] + moved, most - 0.5) if first else (aim[those], 0.5)
        answer = solve(
            cost.astype(float), np.ones(len(those)), self.model.columns(those, self.settled),
            np.full(len(upper), -np.inf), upper, near=near, limit=max(self.left, AT_LEAST),
            start=np.isin(those, self.chosen).astype(float),
        )  # fmt: skip
        self.left -= answer.seconds
        self.proven &= answer.proven
        if len(answer.values):
            self.chosen = those[answer.values > 0.5]
        return int(aim[self.chosen].sum())

    def _strike_out(self, dear: NDArray[np.bool_]) -> None:
        """A place whose reduced cost is above what the value is above the bound is in no choice as good as that."""
        dear[self.chosen] = False  # whatever the arithmetic of the prices rounds
        self.able &= ~dear
        self.program.strike_out(np.flatnonzero(~self.able[self.those]))


def _first(those: Ints, reduced: Floats, count: int) -> Ints:
    """So many of them, the most helpful first."""
    return those[np.argsort(reduced[those], kind="stable")[:count]]
