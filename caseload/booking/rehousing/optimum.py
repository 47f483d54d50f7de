"""The best choice of places: one stage of aims settled after the other, each proven.

First as if nobody else could move: that is soon found, and where it keeps every window that can be kept, no move is of
any use. Else the same is asked with everybody, and goes on from there.

Prices of the rows, whatever they are, bound every choice from below (Lagrange; Geoffrion 1974, from memory), and the
least that a choice comes to which takes a certain column. So whole numbers are first asked of those columns alone that
a choice as good as the bound could take; if none is, of those that a better one than is found could. A column that no
choice as good as the best can take is struck out for good (reduced-cost fixing; Dantzig, Fulkerson and Johnson 1954,
from memory). Prices in the midst of the best ones leave some hundreds of thirty thousand columns.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.booking.rehousing.places import COST, LATE, MOVED, NOBODY, OUTSIDE, Diary, Visit
from caseload.booking.rehousing.program import Model
from caseload.booking.solver import Answer, Columns, Floats, Ints, solve

STAGES: Final = ((OUTSIDE, MOVED), (LATE,), (COST,))
"""Aims settled at once, the first outweighing what the second can come to."""
STEP: Final = 0.5
"""Aims are whole numbers: nearer than this to the least is the least."""
NONE: Final = 1e-6
"""Less than so much is nothing."""
NO_TIME: Final = Answer(np.zeros(0), np.inf, -np.inf, False, 0.0, np.zeros(0))
TOGETHER: Final = 5.0
"""Seconds for aims settled at once: where that works it is soon done, else they are settled one by one."""
AT_LEAST: Final = 1.0
"""Seconds for those who are lost, however late it is: without them nobody would have a place."""


class Choice(NamedTuple):
    """First slots by visit; not `proven` where time was up before the proof."""

    places: dict[int, int]
    proven: bool


def best_choice(diary: Diary, limit: float) -> Choice:
    model = Model(diary)
    moves = model.aims[MOVED] > 0
    search = _Search(model, limit)
    search.settle_all(~moves, AT_LEAST)
    if moves.any() and search.value(model.aims[OUTSIDE]) > _no_less(diary):
        search.settle_all(np.ones(len(moves), bool), 0.0)
    places = {at: first for at, first in _places(diary, search.chosen > STEP) if first != diary.visits[at].held}
    return Choice(_in_turn(diary, places), search.proven)


def _no_less(diary: Diary) -> int:
    """What the windows come to if everybody who could be inside one is."""
    least = np.zeros(len(diary.visits), np.int64)
    np.minimum.at(least, diary.days.visit, diary.days.aims[OUTSIDE])
    return int(least.sum())


class _Bound(NamedTuple):
    """No choice has less than `least`, none that takes a column less than `by_column`."""

    least: float
    by_column: Floats


@dataclass
class _Search:
    """`able` marks the columns that may still be chosen, `chosen` is 1 for the best ones so far, `left` the seconds
    that are."""

    model: Model
    left: float
    proven: bool = True
    able: NDArray[np.bool_] = field(init=False)
    chosen: Floats = field(init=False)
    columns: Columns = field(init=False)
    upper: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.chosen = np.zeros(self.model.aims.shape[1])

    def value(self, aim: Ints) -> int:
        return int(aim @ self.chosen)

    def settle_all(self, able: NDArray[np.bool_], at_least: float) -> None:
        """Make each aim as small as it can be with those before it as they are, by columns that are able."""
        self.able, self.columns, self.upper, self.proven = able, self.model.columns, self.model.upper, True
        for stage in STAGES:
            self._settle(stage, at_least)

    def _settle(self, stage: tuple[int, ...], at_least: float) -> None:
        """Together where that comes out as well as its bound; else one by one, since the bound of each rounds up."""
        aim = self.model.weighed(stage)
        bound = self._bound(aim, at_least)
        hope = ceil(bound.least - NONE)
        if self.value(aim) > hope:
            self._whole(stage, bound.by_column < hope + NONE, at_least, TOGETHER if len(stage) > 1 else np.inf)
        if self.value(aim) > hope and len(stage) > 1:
            for each in stage:
                self._settle((each,), at_least)
            return
        if self.value(aim) > hope:
            self.proven &= self._whole(stage, bound.by_column < self.value(aim) - 1 + NONE, at_least)
        self.able = self.able & (bound.by_column < self.value(aim) + NONE) | (self.chosen > STEP)
        for each in stage:
            self.columns = self.columns.with_row(self.model.aims[each].astype(float))
            self.upper = np.append(self.upper, float(self.value(self.model.aims[each])))

    def _bound(self, aim: Ints, at_least: float) -> _Bound:
        those = np.flatnonzero(self.able)
        answer = self._solve(aim, those, at_least, whole=False, interior=True)
        prices = np.minimum(answer.prices, 0.0) if answer.proven else np.zeros(len(self.upper))
        reduced = aim - self.columns.times(prices)
        least = float(prices @ self.upper + np.minimum(reduced[those], 0.0).sum())
        return _Bound(least, least + np.maximum(reduced, 0.0))

    def _whole(self, stage: tuple[int, ...], able: NDArray[np.bool_], at_least: float, most: float = np.inf) -> bool:
        """The best whole numbers of these columns and those chosen already, in so many seconds at most; whether it is
        proven. Of windows kept alike few moves are looked for: time may be up before those are settled."""
        windows = stage == (OUTSIDE,)
        aim, near = self.model.weighed(STAGES[0] if windows else stage), self.model.most if windows else STEP
        those = np.flatnonzero(self.able & able | (self.chosen > STEP))
        answer = self._solve(aim, those, at_least, most, near=near, start=self.chosen[those])
        if len(answer.values):
            self.chosen = np.zeros(len(self.chosen))
            self.chosen[those] = answer.values
        return answer.proven

    def _solve(self, aim: Ints, those: Ints, at_least: float, most: float = np.inf, **options: Any) -> Answer:
        limit, upper = max(min(self.left, most), at_least), self.upper
        if limit <= 0:
            return NO_TIME
        answer = solve(
            aim[those].astype(float), np.ones(len(those)), self.columns.only(those),
            np.full(len(upper), -np.inf), upper, limit=limit, **options,
        )  # fmt: skip
        self.left -= answer.seconds
        return answer


def _places(diary: Diary, chosen: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Who chose their own therapist has a start of theirs, then all others have what is left; it may be their own."""
    days, starts = diary.days, diary.starts
    free = [int(at) for at in np.flatnonzero(chosen[len(days.visit) :])]
    for at in sorted(np.flatnonzero(chosen[: len(days.visit)]), key=lambda each: days.own[each] == NOBODY):
        group, of = (days.day, starts.day) if days.own[at] == NOBODY else (days.own, starts.own)
        start = next(each for each in free if of[each] == group[at])
        free.remove(start)
        yield int(days.visit[at]), int(starts.first[start])


def _in_turn(diary: Diary, places: dict[int, int]) -> dict[int, int]:
    """Of lost ones who are alike the first in the queue has the first place."""
    alike: dict[Visit, list[int]] = defaultdict(list)
    for at, visit in enumerate(diary.visits):
        if visit.held == NOBODY:
            alike[visit._replace(appointment=0)].append(at)
    for each in alike.values():
        found = sorted(places.pop(at) for at in each if at in places)
        places |= zip(each, found, strict=False)
    return places
