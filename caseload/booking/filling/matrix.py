"""Rows that are named by what they are about, and columns that have a share in them."""

from collections.abc import Hashable, Iterable
from functools import cached_property

import numpy as np

from caseload.booking.solver import Columns

Entry = tuple[Hashable, int, int]
"""A row, a share in it, and the most that all shares in it may come to."""


class Matrix:
    """Takes in column after column; a row begins to be when it is first named. `first` rows come first."""

    def __init__(self, first: Iterable[Hashable], limit: int) -> None:
        self.found = {row: at for at, row in enumerate(first)}
        self.limits = [limit] * len(self.found)
        self._starts = [0]
        self._rows: list[int] = []
        self._shares: list[int] = []

    def column(self, entries: Iterable[Entry]) -> None:
        for row, share, limit in entries:
            self._rows.append(self._at(row, limit))
            self._shares.append(share)
        self._starts.append(len(self._rows))

    @cached_property
    def columns(self) -> Columns:
        return Columns(np.array(self._starts), np.array(self._rows), np.array(self._shares, float))

    def _at(self, row: Hashable, limit: int) -> int:
        at = self.found.setdefault(row, len(self.limits))
        if at == len(self.limits):
            self.limits.append(limit)
        return at
