"""Linear programs for whole numbers, made sharper by rows that whole numbers keep to and halves do not.

Each answer is found from the one before. Where tight rows add up to even shares in every column that is used, and to an
odd limit, half of their sum rounded down is such a row (Caprara and Fischetti, Mathematical Programming 1996; 74: 221,
from memory). They are looked for by elimination modulo 2: a row is one number with a bit for each of its odd shares.
"""

from collections.abc import Iterator, Sequence
from functools import cached_property, reduce
from math import floor
from operator import or_
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from caseload.booking.solver import Columns, Floats, Ints, machine

PRIMAL: Final = 4
DUAL: Final = 1
"""Of the simplex method: at another cost the answer before is still one; with a row more it is not, its prices are."""
NEAR: Final = 1e-6
FEW: Final = 4
"""Rounds in which a bound is sharpened, though it is no whole number and what it says of whole ones may be true."""
NOTHING: Final[Floats] = np.zeros(0)


class _Row(NamedTuple):
    """Whole shares that come to no more than a limit; `odd` has a bit for each column with an odd share."""

    columns: Ints
    shares: Ints
    limit: int
    odd: int


class _Sum(NamedTuple):
    """What rows add up to modulo 2: the odd shares of columns in use, the limit; a bit for each of the rows."""

    odd: int
    limit: int
    rows: int


class Sharpened:
    """Columns lie between 0 and `upper`, rows are at most `limits`; shares and limits are whole numbers. After so many
    seconds of solving nothing is made sharper."""

    def __init__(self, columns: Columns, upper: Floats, limits: Floats, seconds: float) -> None:
        self._columns, self._upper, self._limits, self._most_seconds = columns, upper, limits, seconds
        self._count = len(upper)
        self._more: list[_Row] = []
        self._solver: Any = machine(presolve="off")
        for limit in limits:
            self._solver.addRow(-np.inf, float(limit), 0, np.zeros(0, np.int32), NOTHING)
        self._solver.addCols(
            self._count, np.zeros(self._count), np.zeros(self._count), upper, len(columns.rows),
            columns.starts[:-1].astype(np.int32), columns.rows.astype(np.int32), columns.values,
        )  # fmt: skip

    @property
    def seconds(self) -> float:
        """Those of solving, up to now."""
        return float(self._solver.getRunTime())

    def most(self, of: Floats, rounds: int, known: int = -1) -> int | None:
        """The sum of some columns is no more than this, which is sharpened unless so many are known; None where there
        is no answer."""
        values = self._asked(-of)
        for done in range(rounds):
            if not len(values) or is_whole(values) or floor(of @ values + NEAR) <= known:
                break
            apart = of @ values > floor(of @ values + NEAR) + NEAR
            if (apart and done >= FEW) or not self._sharpen(values):
                break
            values = self._answer(DUAL)
        return floor(of @ values + NEAR) if len(values) else None

    def least(self, cost: Floats, rounds: int) -> Floats:
        """The answer of the least cost, sharpened until it is whole; nothing where there is none."""
        values = self._asked(cost)
        for _ in range(rounds):
            if not len(values) or is_whole(values) or not self._sharpen(values):
                break
            values = self._answer(DUAL)
        return values

    def at_least(self, of: Floats, number: int) -> None:
        """From now on the sum of some columns is so much or more."""
        those = np.flatnonzero(of)
        self._add(_row(those, -of[those].astype(np.int64), -number))

    def _asked(self, cost: Floats) -> Floats:
        self._solver.changeColsCost(self._count, np.arange(self._count, dtype=np.int32), cost)
        return self._answer(PRIMAL)

    def _answer(self, method: int) -> Floats:
        import highspy

        self._solver.setOptionValue("simplex_strategy", method)
        self._solver.run()
        best = self._solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        return np.array(self._solver.getSolution().col_value, float) if best else NOTHING

    def _add(self, row: _Row) -> None:
        self._more.append(row)
        self._solver.addRow(
            -np.inf, float(row.limit), len(row.columns), row.columns.astype(np.int32), row.shares.astype(float)
        )

    def _sharpen(self, values: Floats) -> bool:
        """Adds every row found that the values do not keep to; whether there is one."""
        if self.seconds >= self._most_seconds:
            return False
        tight = [*self._tight(), *self._full(values)]
        found = [self._half(tight, rows) for rows in _odd(tight, _bits(values > NEAR))]
        broken = [row for row in found if row.shares @ values[row.columns] > row.limit + NEAR]
        for row in broken:
            self._add(row)
        return bool(broken)

    def _tight(self) -> Iterator[_Row]:
        sums = np.array(self._solver.getSolution().row_value, float)
        return (row for row, value in zip([*self._rows, *self._more], sums, strict=True) if row.limit - value < NEAR)

    def _full(self, values: Floats) -> Iterator[_Row]:
        """That a column is at most its upper bound, as a row, where it is that."""
        for at in np.flatnonzero((self._upper - values < NEAR) & (values > NEAR)).tolist():
            yield _Row(np.array([at]), np.array([1]), int(self._upper[at]), 1 << at)

    @cached_property
    def _rows(self) -> list[_Row]:
        """Those of the beginning; where nothing has to be sharpened they are not needed."""
        return list(_rows(self._columns, self._limits))

    def _half(self, tight: Sequence[_Row], rows: int) -> _Row:
        shares, limit = np.zeros(self._count, np.int64), 0
        for at, row in enumerate(tight):
            if rows >> at & 1:
                shares[row.columns] += row.shares
                limit += row.limit
        shares //= 2
        those = np.flatnonzero(shares)
        return _row(those, shares[those], limit // 2)


def is_whole(values: Floats) -> bool:
    return bool(np.abs(values - np.round(values)).max(initial=0.0) < NEAR)


def _odd(rows: Sequence[_Row], used: int) -> Iterator[int]:
    """Sets of rows, a bit for each, that are even in every column that is used and odd in their limits."""
    sums = [_Sum(row.odd & used, row.limit % 2, 1 << at) for at, row in enumerate(rows)]
    kept: dict[int, _Sum] = {}
    for each in sorted(sums, key=lambda each: each.odd.bit_count()):
        left = each
        while left.odd and (by := kept.get(left.odd & -left.odd)):
            left = _Sum(left.odd ^ by.odd, left.limit ^ by.limit, left.rows ^ by.rows)
        if left.odd:
            kept[left.odd & -left.odd] = left
        elif left.limit:
            yield left.rows


def _rows(columns: Columns, limits: Floats) -> Iterator[_Row]:
    order = np.argsort(columns.rows, kind="stable")
    starts = np.searchsorted(columns.rows[order], np.arange(len(limits) + 1))
    at = np.repeat(np.arange(len(columns.starts) - 1), np.diff(columns.starts))[order]
    shares = columns.values[order].astype(np.int64)
    for row, limit in enumerate(limits):
        own = slice(starts[row], starts[row + 1])
        yield _row(at[own], shares[own], int(limit))


def _row(columns: Ints, shares: Ints, limit: int) -> _Row:
    odd = columns[shares % 2 == 1].tolist()
    return _Row(columns, shares, limit, reduce(or_, (1 << at for at in odd), 0))


def _bits(those: NDArray[np.bool_]) -> int:
    return int.from_bytes(np.packbits(those, bitorder="little").tobytes(), "little")
