"""The best choice of places: one aim settled after the other, each proven.

Only places that can matter are written into the program. Prices of its rows, from the linear program, say which others
would help; once none would, its value is a bound for all places. Whole numbers are then chosen among the places written
down; where their value is above the bound, every place that could make up the difference is added, and what is then
chosen is the best there is (reduced-cost fixing; Dantzig, Fulkerson and Johnson 1954, from memory).
"""

from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.booking.rehousing.places import COST, LATE, NOBODY, OUTSIDE, Diary
from caseload.booking.rehousing.program import Model, Rows
from caseload.booking.solver import Answer, Floats, Ints, solve

FIRST: Final = 100
"""Places of each lost visit to begin with."""
MORE: Final = 2_000
"""Places added at once."""
NONE: Final = -1e-7
"""Reduced costs above this are none."""
AT_LEAST: Final = 1.0
"""Seconds for whole numbers, however late it is: without them nobody would have a place."""


class Choice(NamedTuple):
    """Places by their number; not `proven` where time was up before the proof."""

    places: Ints
    proven: bool


def best_choice(diary: Diary, limit: float) -> Choice:
    search = _Search(diary, Model(diary), _to_begin_with(diary), limit)
    for aim in diary.places.aims:
        search.settle(aim)
    return Choice(search.chosen, search.proven)


def _to_begin_with(diary: Diary) -> Ints:
    """The best places of each lost visit by itself."""
    visit, _, aims = diary.places
    lost = np.flatnonzero(np.array([each.held == NOBODY for each in diary.visits], bool)[visit])
    order = lost[np.lexsort((aims[COST, lost], aims[LATE, lost], aims[OUTSIDE, lost], visit[lost]))]
    turn = np.arange(len(order)) - np.searchsorted(visit[order], visit[order])
    return np.sort(order[turn < FIRST])


@dataclass
class _Search:
    """`those` are the places written down, `able` marks those that may still be chosen, `chosen` are the best ones so
    far, `left` the seconds that are."""

    diary: Diary
    model: Model
    those: Ints
    left: float
    chosen: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    settled: list[tuple[Ints, int]] = field(default_factory=list)
    proven: bool = True
    able: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        self.able = np.ones(len(self.diary.places.visit), bool)

    def settle(self, aim: Ints) -> None:
        """Make an aim as small as it can be with those before it as they are."""
        if not aim.any():
            return
        bound, reduced = self._bound(aim)
        value = self._choose(aim)
        if reduced is None:
            self.proven = False
            self.settled.append((aim, value))
            return
        if (better := value - 1 - bound) > NONE:
            self._write_down(np.flatnonzero(self.able & (reduced < better - NONE)))
            value = self._choose(aim)
        self.settled.append((aim, value))
        self._strike_out(reduced > value - bound - NONE)

    def _bound(self, aim: Ints) -> tuple[float, Floats | None]:
        """The value of the linear program over all places, and their reduced costs; none where time is up before."""
        while True:
            answer, rows = self._solve(aim, whole=False)
            reduced = self._reduced(aim, answer, rows)
            helpful = np.flatnonzero(self.able & (reduced < NONE))
            new = helpful[~np.isin(helpful, self.those)]
            if not len(new):
                return answer.objective, reduced
            if self.left <= 0:
                return -np.inf, None
            self._write_down(new[np.argsort(reduced[new], kind="stable")[:MORE]])

    def _choose(self, aim: Ints) -> int:
        answer, _ = self._solve(aim, whole=True)
        self.proven &= answer.proven
        if len(answer.values):
            self.chosen = self.those[answer.values > 0.5]
        return int(aim[self.chosen].sum())

    def _solve(self, aim: Ints, *, whole: bool) -> tuple[Answer, Rows]:
        columns, upper, rows = self.model.program(self.those, self.settled)
        start = np.isin(self.those, self.chosen).astype(float) if whole else None
        answer = solve(
            aim[self.those].astype(float), np.ones(len(self.those)), columns, np.full(len(upper), -np.inf), upper,
            whole=whole, limit=max(self.left, AT_LEAST) if whole else 1e6, start=start,
        )  # fmt: skip
        self.left -= answer.seconds
        return answer, rows

    def _write_down(self, more: Ints) -> None:
        self.those = np.union1d(self.those, more)

    def _strike_out(self, dear: NDArray[np.bool_]) -> None:
        """A place whose reduced cost is above what the value is above the bound is in no choice as good as that."""
        self.able &= ~dear
        self.able[self.chosen] = True  # whatever the arithmetic of the prices rounds
        self.those = self.those[self.able[self.those]]

    def _reduced(self, aim: Ints, answer: Answer, rows: Rows) -> Floats:
        """What each place costs above the prices of what it takes, those of what it gives back taken off."""
        visit, first, _ = self.diary.places
        prices, slots = np.zeros(len(self.diary.visits)), np.zeros(len(self.diary.slots))
        prices[rows.visits] = answer.prices[: len(rows.visits)]
        slots[rows.slots] = answer.prices[len(rows.visits) : len(rows.visits) + len(rows.slots)]
        up_to = np.concatenate([[0.0], np.cumsum(slots)])
        length, held = self.model.length, self.model.held
        begin, end = (np.where(held == NOBODY, 0, each) for each in (held, held + length))
        back = up_to[end] - up_to[begin]
        taken = up_to[first + length[visit]] - up_to[first]
        reduced: Floats = aim - prices[visit] - taken + back[visit]
        for (other, _), price in zip(self.settled, answer.prices[len(rows.visits) + len(rows.slots) :], strict=True):
            reduced = reduced - price * other
        return reduced
