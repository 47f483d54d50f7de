"""The program that chooses among some of the places: a row for each visit, each slot they touch and each aim settled.

Nobody who is kept has a column for staying: a move gives their slots back, so what others take of a held slot is at
most what its holder gives back.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from caseload.booking.rehousing.places import NOBODY, Diary
from caseload.booking.solver import Columns, Floats, Ints


class Rows(NamedTuple):
    """Which visits and slots have rows, in the order of the rows; the aims settled come last."""

    visits: Ints
    slots: Ints


class Model:
    """A diary as arrays."""

    def __init__(self, diary: Diary) -> None:
        self.places = diary.places
        self.length = np.array([each.length for each in diary.visits], np.int64)
        self.held = np.array([each.held for each in diary.visits], np.int64)
        self.room = diary.room

    def program(self, those: Ints, settled: Sequence[tuple[Ints, int]]) -> tuple[Columns, Floats, Rows]:
        """The matrix of those places, the upper bounds of its rows, and what the rows are."""
        visits, visit = _numbered(self.places.visit[those])
        column, slot, value = self._slots(those)
        slots, row = _numbered(slot)
        every = np.arange(len(those))
        parts = [(every, visit, np.ones(len(those), np.int64)), (column, row + len(visits), value)]
        for at, (aim, _) in enumerate(settled, len(visits) + len(slots)):
            parts.append((every, np.full(len(those), at), aim[those]))
        upper = np.concatenate([np.ones(len(visits)), self.room[slots], np.array([most for _, most in settled], float)])
        return _columns(len(those), parts), upper.astype(float), Rows(visits, slots)

    def _slots(self, those: Ints) -> tuple[Ints, Ints, Ints]:
        """Columns, slots and values: 1 for a slot taken, -1 for one given back, none for one kept."""
        visit = self.places.visit[those]
        length, first, held = self.length[visit], self.places.first[those], self.held[visit]
        found: list[tuple[Ints, Ints, Ints]] = []
        for turn in range(int(length.max(initial=1))):
            for start, other, value in ((first, held, 1), (held, first, -1)):
                slot = start + turn
                there = (turn < length) & (start != NOBODY)
                shared = (other != NOBODY) & (slot >= other) & (slot < other + length)
                at = np.flatnonzero(there & ~shared)
                found.append((at, slot[at], np.full(len(at), value)))
        return _joined(found)


def _numbered(these: Ints) -> tuple[Ints, Ints]:
    """The different ones in order, and for each which of them it is."""
    found, number = np.unique(these, return_inverse=True)
    return found, np.asarray(number, np.int64)


def _columns(count: int, parts: Sequence[tuple[Ints, Ints, Ints]]) -> Columns:
    column, row, value = _joined(parts)
    order = np.argsort(column, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=count))])
    return Columns(starts, row[order], value[order].astype(float))


def _joined(parts: Sequence[tuple[Ints, Ints, Ints]]) -> tuple[Ints, Ints, Ints]:
    one, two, three = (np.concatenate([part[at] for part in parts]) for at in range(3))
    return one, two, three
