"""Linear and integer programs, as arrays, solved by HiGHS for the least cost.

One thread and a fixed seed: the same program has the same answer.

The solver is imported where it is used: a page that plans nothing does not load it.
"""

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import highspy

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
INTERIOR: Final = {"solver": "ipm", "run_crossover": "off"}


class Columns(NamedTuple):
    """A matrix column by column: the entries of column j are `rows[starts[j]:starts[j + 1]]` with their `values`;
    `starts` has one more entry than there are columns."""

    starts: Ints
    rows: Ints
    values: Floats

    def only(self, those: Ints) -> "Columns":
        """Some of them."""
        lengths = np.diff(self.starts)[those]
        starts = np.concatenate([[0], np.cumsum(lengths)])
        at = np.repeat(self.starts[those] - starts[:-1], lengths) + np.arange(starts[-1])
        return Columns(starts, self.rows[at], self.values[at])

    def times(self, prices: Floats) -> Floats:
        """For each column what its entries come to at a price for each row."""
        column = np.repeat(np.arange(len(self.starts) - 1), np.diff(self.starts))
        return np.bincount(column, self.values * prices[self.rows], len(self.starts) - 1).astype(float)

    def with_row(self, values: Floats) -> "Columns":
        """The same with one row more at the end, in which every column has a value."""
        row = int(self.rows.max(initial=-1)) + 1
        ends = self.starts[1:]
        return Columns(
            self.starts + np.arange(len(self.starts)),
            np.insert(self.rows, ends, row),
            np.insert(self.values, ends, values),
        )


class Answer(NamedTuple):
    """`bound`: no answer costs less. `prices` are those of the rows, of a linear program only. Without an answer
    `values` is empty."""

    values: Floats
    objective: float
    bound: float
    proven: bool
    seconds: float
    prices: Floats


def solve(
    cost: Floats,
    upper: Floats,
    columns: Columns,
    row_lower: Floats,
    row_upper: Floats,
    *,
    whole: bool = True,
    limit: float = 60.0,
    near: float = 0.5,
    start: Floats | None = None,
    interior: bool = False,
) -> Answer:
    """The cheapest values between 0 and `upper` that keep every row between its bounds.

    `whole` asks for whole numbers; `near` is the gap within which an answer counts as the best: below the step between
    two costs. `start` is an answer known already. After `limit` seconds the best one found stands. `interior` asks a
    linear program for prices in the midst of the best ones, where each column that no best answer needs is too dear.
    """
    if not len(cost):
        return Answer(np.zeros(0), 0.0, 0.0, True, 0.0, np.zeros(len(row_upper)))
    import highspy

    asked = machine(time_limit=limit, mip_rel_gap=0.0, mip_abs_gap=near, **(INTERIOR if interior else {}))
    asked.passModel(_program(cost, upper, columns, row_lower, row_upper, whole=whole))
    if start is not None and whole:
        known = highspy.HighsSolution()
        known.col_value = list(start)
        asked.setSolution(known)
    asked.run()
    answer = _answer(asked, cost, whole=whole)
    if start is not None and answer.objective > asked.getInfo().objective_function_value + near:
        # HiGHS 1.16 sometimes hands back the start beside the objective of something better that it has found.
        left = max(0.0, limit - answer.seconds)
        return solve(cost, upper, columns, row_lower, row_upper, whole=whole, limit=left, near=near)
    return answer


def machine(**options: float | str) -> Any:
    """HiGHS with nothing to solve yet."""
    import highspy

    found: Any = highspy._core._Highs()  # the class around it writes a banner where commands write their answers
    for option, value in {"output_flag": False, "threads": 1, "random_seed": 0, **options}.items():
        found.setOptionValue(option, value)
    return found


def _program(
    cost: Floats, upper: Floats, columns: Columns, row_lower: Floats, row_upper: Floats, *, whole: bool
) -> "highspy.HighsLp":
    import highspy

    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = len(cost), len(row_upper)
    program.col_cost_, program.col_lower_, program.col_upper_ = cost, np.zeros(len(cost)), upper
    program.row_lower_, program.row_upper_ = row_lower, row_upper
    matrix: Any = program.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kColwise
    matrix.start_, matrix.index_, matrix.value_ = columns.starts, columns.rows, columns.values
    if whole:
        program.integrality_ = [highspy.HighsVarType.kInteger] * len(cost)
    return program


def _answer(asked: Any, cost: Floats, *, whole: bool) -> Answer:
    import highspy

    info, solution = asked.getInfo(), asked.getSolution()
    best = asked.getModelStatus() == highspy.HighsModelStatus.kOptimal
    feasible = info.primal_solution_status == int(highspy.SolutionStatus.kSolutionStatusFeasible)
    values = np.array(solution.col_value, float) if feasible else np.zeros(0)
    values = np.round(values) if whole else values
    return Answer(
        values=values,
        objective=float(cost @ values) if feasible else np.inf,
        bound=info.mip_dual_bound if whole else (info.objective_function_value if best else -np.inf),
        proven=best and feasible,
        seconds=asked.getRunTime(),
        prices=np.array(solution.row_dual, float),
    )
