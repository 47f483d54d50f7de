"""The program that chooses among places: a row for each visit, one for each slot, and one for each aim settled.

Nobody who is kept has a column for staying: a move gives their slots back, so what others take of a held slot is at
most what its holder gives back.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from caseload.booking.rehousing.places import NOBODY, Diary
from caseload.booking.solver import Columns, Floats, Ints


class Settled(NamedTuple):
    """An aim, by place, and how small it was found to be at the least."""

    aim: Ints
    value: int


class Model:
    """A diary as arrays; `upper` are the bounds of the rows before those of the aims settled."""

    def __init__(self, diary: Diary) -> None:
        self.places = diary.places
        self.length = np.array([each.length for each in diary.visits], np.int64)
        self.held = np.array([each.held for each in diary.visits], np.int64)
        self.upper = np.concatenate([np.ones(len(diary.visits)), diary.room]).astype(float)

    def columns(self, those: Ints, settled: Sequence[Settled]) -> Columns:
        """The matrix of those places."""
        every = np.arange(len(those))
        column, slot, value = self._slots(those)
        parts = [(every, self.places.visit[those], np.ones(len(those))), (column, slot + len(self.length), value)]
        for row, (aim, _) in enumerate(settled, len(self.upper)):
            parts.append((every, np.full(len(those), row), aim[those].astype(float)))
        return _columns(len(those), parts)

    def _slots(self, those: Ints) -> tuple[Ints, Ints, Floats]:
        """Columns, slots and values: 1 for a slot taken, -1 for one given back, none for one kept."""
        visit = self.places.visit[those]
        length, first, held = self.length[visit], self.places.first[those], self.held[visit]
        found: list[tuple[Ints, Ints, Floats]] = []
        for turn in range(int(length.max(initial=1))):
            for start, other, value in ((first, held, 1.0), (held, first, -1.0)):
                slot = start + turn
                there = (turn < length) & (start != NOBODY)
                shared = (other != NOBODY) & (slot >= other) & (slot < other + length)
                at = np.flatnonzero(there & ~shared)
                found.append((at, slot[at], np.full(len(at), value)))
        return _joined(found)

    def reduced(self, aim: Ints, settled: Sequence[Settled], prices: Floats) -> Floats:
        """What each place costs above the prices of what it takes, those of what it gives back taken off."""
        visit, first, _ = self.places
        up_to = np.concatenate([[0.0], np.cumsum(prices[len(self.length) : len(self.upper)])])
        begin, end = (np.where(self.held == NOBODY, 0, each) for each in (self.held, self.held + self.length))
        back = up_to[end] - up_to[begin] - prices[: len(self.length)]
        taken = up_to[first + self.length[visit]] - up_to[first]
        left: Floats = aim - taken + back[visit]
        for (other, _), price in zip(settled, prices[len(self.upper) :], strict=True):
            left = left - price * other
        return left


def _columns(count: int, parts: Sequence[tuple[Ints, Ints, Floats]]) -> Columns:
    column, row, value = _joined(parts)
    order = np.argsort(column, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=count))])
    return Columns(starts, row[order], value[order])


def _joined(parts: Sequence[tuple[Ints, Ints, Floats]]) -> tuple[Ints, Ints, Floats]:
    one, two, three = (np.concatenate([part[at] for part in parts]) for at in range(3))
    return one, two, three
