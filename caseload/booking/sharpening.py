"""Linear programs for whole numbers, made sharper by rows that whole numbers keep to and halves do not.

Each answer is found from the one before. Where tight rows add up to even shares in every column that is used, and to an
odd limit, half of their sum rounded down is such a row (Caprara and Fischetti, Mathematical Programming 1996; 74: 221,
from memory). They are looked for by elimination modulo 2: a row is one number with a bit for each of its odd shares.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from math import floor
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


class Sharpened:
    """Columns lie between 0 and `upper`, rows are at most `limits`; shares and limits are whole numbers. Only the first
    columns, `asked` of them, are looked at: where these are whole, the others can be. After so many seconds of solving
    nothing is made sharper."""

    def __init__(self, columns: Columns, upper: Floats, limits: Floats, asked: int, seconds: float) -> None:
        self._columns, self._upper, self._limits, self._most_seconds = columns, upper, limits, seconds
        self._count, self._asked = len(upper), asked
        self._more: list[_Row] = []
        self._solver: Any = machine()
        self._solver.setOptionValue("presolve", "off")  # it would begin anew each time
        none = np.zeros(len(limits), np.int32)
        self._solver.addRows(len(limits), np.full(len(limits), -np.inf), limits, 0, none, none[:0], NOTHING)
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
        values = self._solved(-of)
        for done in range(rounds):
            if not len(values) or self.is_whole(values) or floor(of @ values + NEAR) <= known:
                break
            apart = of @ values > floor(of @ values + NEAR) + NEAR
            if (apart and done >= FEW) or not self._sharpen(values):
                break
            values = self._answer(DUAL)
        return floor(of @ values + NEAR) if len(values) else None

    def least(self, cost: Floats, rounds: int) -> Floats:
        """The answer of the least cost, sharpened until it is whole; nothing where there is none."""
        values = self._solved(cost)
        for _ in range(rounds):
            if not len(values) or self.is_whole(values) or not self._sharpen(values):
                break
            values = self._answer(DUAL)
        return values

    def at_least(self, of: Floats, number: int) -> None:
        """From now on the sum of some columns is so much or more."""
        those = np.flatnonzero(of)
        self._add(_row(those, -of[those].astype(np.int64), -number))

    def is_whole(self, values: Floats) -> bool:
        asked = values[: self._asked]
        return bool(np.abs(asked - np.round(asked)).max(initial=0.0) < NEAR)

    def _solved(self, cost: Floats) -> Floats:
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
        tight, full = self._tight(), np.flatnonzero((self._upper - values < NEAR) & (values > NEAR)).tolist()
        bounds = [(1 << at, int(self._upper[at])) for at in full]
        sets = _odd([*((row.odd, row.limit) for row in tight), *bounds], _bits(values > NEAR))
        found = [self._half(tight, full, those) for those in sets]
        broken = [row for row in found if row.shares @ values[row.columns] > row.limit + NEAR]
        for row in broken:
            self._add(row)
        return bool(broken)

    def _tight(self) -> list[_Row]:
        sums = np.array(self._solver.getSolution().row_value, float)
        rows = [*self._rows, *self._more]
        limits = np.array([row.limit for row in rows])
        return [rows[at] for at in np.flatnonzero(limits - sums < NEAR)]

    def _half(self, tight: Sequence[_Row], full: Sequence[int], those: Iterable[int]) -> _Row:
        """Of the sum of some tight rows, and of bounds of columns that are full, numbered after them."""
        shares, limit = np.zeros(self._count, np.int64), 0
        for at in those:
            if at < len(tight):
                shares[tight[at].columns] += tight[at].shares
                limit += tight[at].limit
            else:
                shares[full[at - len(tight)]] += 1
                limit += int(self._upper[full[at - len(tight)]])
        shares //= 2
        columns = np.flatnonzero(shares)
        return _row(columns, shares[columns], limit // 2)

    @cached_property
    def _rows(self) -> list[_Row]:
        """Those of the beginning; where nothing has to be sharpened they are not needed."""
        return list(_rows(self._columns, self._limits))


def _odd(rows: Sequence[tuple[int, int]], used: int) -> Iterator[list[int]]:
    """Sets of rows that are even in every column that is used and odd in their limits. Told of each row are its odd
    shares and its limit; of a sum of rows it is kept which they are, too."""
    sums = [(odd & used, limit % 2, 1 << at) for at, (odd, limit) in enumerate(rows)]
    kept: dict[int, tuple[int, int, int]] = {}
    for odd, limit, those in sorted(sums, key=lambda each: each[0].bit_count()):
        while odd and (by := kept.get(odd & -odd)):
            odd, limit, those = odd ^ by[0], limit ^ by[1], those ^ by[2]
        if odd:
            kept[odd & -odd] = odd, limit, those
        elif limit:
            yield [at for at in range(len(rows)) if those >> at & 1]


def _rows(columns: Columns, limits: Floats) -> Iterator[_Row]:
    order = np.argsort(columns.rows, kind="stable")
    starts = np.searchsorted(columns.rows[order], np.arange(len(limits) + 1))
    at = np.repeat(np.arange(len(columns.starts) - 1), np.diff(columns.starts))[order]
    shares = columns.values[order].astype(np.int64)
    for row, limit in enumerate(limits):
        own = slice(starts[row], starts[row + 1])
        yield _row(at[own], shares[own], int(limit))


def _row(columns: Ints, shares: Ints, limit: int) -> _Row:
    odd = np.zeros(int(columns[-1]) + 1 if len(columns) else 0, bool)
    odd[columns] = shares % 2 == 1
    return _Row(columns, shares, limit, _bits(odd))


def _bits(those: NDArray[np.bool_]) -> int:
    return int.from_bytes(np.packbits(those, bitorder="little").tobytes(), "little")
