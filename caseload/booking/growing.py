"""A linear program that grows: columns and rows are added to it, and each answer is found from the one before.

No column is below 0, every row has an upper bound only.
"""

from typing import Any, Final, NamedTuple

import numpy as np

from caseload.booking.solver import Columns, Floats, Ints, machine

PRIMAL: Final = 4
"""The simplex method for it: with columns more, the answer before is still one, only no longer the best."""


class Price(NamedTuple):
    """The least cost, and what a little more room in each row would take off it (0 or below); `seconds` to find it."""

    least: float
    prices: Floats
    seconds: float


class Growing:
    """Begins with rows and no columns."""

    def __init__(self, row_upper: Floats) -> None:
        self._program: Any = machine(simplex_strategy=PRIMAL)
        self._count, self._rows = 0, len(row_upper)
        for upper in row_upper:
            self._program.addRow(-np.inf, float(upper), 0, np.zeros(0, np.int32), np.zeros(0))

    def add_columns(self, columns: Columns) -> None:
        count = len(columns.starts) - 1
        self._program.addCols(
            count, np.zeros(count), np.zeros(count), np.full(count, np.inf), len(columns.rows),
            columns.starts[:-1].astype(np.int32), columns.rows.astype(np.int32), columns.values,
        )  # fmt: skip
        self._count += count

    def add_row(self, values: Ints, upper: float) -> int:
        """The number of a row more; `values` has one for each column."""
        those = np.flatnonzero(values)
        self._program.addRow(-np.inf, upper, len(those), those.astype(np.int32), values[those].astype(float))
        self._rows += 1
        return self._rows - 1

    def bound_row(self, row: int, upper: float) -> None:
        self._program.changeRowBounds(row, -np.inf, upper)

    def strike_out(self, those: Ints) -> None:
        """Columns that stay at nothing from now on."""
        nothing = np.zeros(len(those))
        self._program.changeColsBounds(len(those), those.astype(np.int32), nothing, nothing)

    def ask(self, cost: Floats, limit: float) -> Price:
        """After `limit` seconds prices that are no longer the best ones, and what they had come to."""
        self._program.changeColsCost(self._count, np.arange(self._count, dtype=np.int32), cost)
        before = self._program.getRunTime()
        self._program.setOptionValue("time_limit", before + limit)
        self._program.run()
        least = self._program.getInfo().objective_function_value
        prices = np.minimum(np.array(self._program.getSolution().row_dual, float), 0.0)
        return Price(float(least), prices, self._program.getRunTime() - before)
