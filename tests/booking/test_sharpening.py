"""Rows that sharpen a linear program against every whole answer there is, on small programs at random."""

from itertools import product
from math import inf
from random import Random
from typing import NamedTuple

import numpy as np
import pytest

from caseload.booking.sharpening import Sharpened
from caseload.booking.solver import Columns

CASES = 300
ROUNDS = 30


class Case(NamedTuple):
    shares: np.ndarray
    upper: np.ndarray
    limits: np.ndarray
    cost: np.ndarray

    def sharpened(self, seconds: float = inf, asked: int | None = None) -> Sharpened:
        rows, columns = self.shares.shape
        starts, at = np.arange(columns + 1) * rows, np.tile(np.arange(rows), columns)
        matrix = Columns(starts, at, self.shares.T.ravel().astype(float))
        return Sharpened(matrix, self.upper, self.limits, columns if asked is None else asked, seconds)

    def whole_answers(self) -> np.ndarray:
        every = np.array(list(product(*(range(int(upper) + 1) for upper in self.upper))))
        return every[(every @ self.shares.T <= self.limits).all(axis=1)]


def case(seed: int) -> Case:
    """Like rings of pairs, of which only half of each can be taken: where linear programs are taken in."""
    random = Random(seed)
    columns, rows = random.randint(3, 6), random.randint(3, 6)
    shares = np.array([[random.choice((0, 0, 1, 1, 2, -1)) for _ in range(columns)] for _ in range(rows)])
    upper = np.array([float(random.randint(1, 2)) for _ in range(columns)])
    limits = np.array([float(random.randint(0, 5)) for _ in range(rows)])
    return Case(shares, upper, limits, np.array([float(random.randint(-5, 1)) for _ in range(columns)]))


@pytest.mark.parametrize("tenth", range(10))
def test_no_whole_answer_is_lost_and_a_whole_one_found_is_the_best(tenth):
    sharpened = 0
    for seed in range(tenth * CASES // 10, (tenth + 1) * CASES // 10):
        asked = case(seed)
        program, answers = asked.sharpened(), asked.whole_answers()
        first, found = program.least(asked.cost, 0), program.least(asked.cost, ROUNDS)
        least = (answers @ asked.cost).min()
        assert found @ asked.cost <= least + 1e-6, seed
        assert not program.is_whole(found) or found @ asked.cost == pytest.approx(least), seed
        for row in program._more:
            assert (answers[:, row.columns] @ row.shares <= row.limit).all(), seed
        sharpened += not program.is_whole(first) and program.is_whole(found)
    assert sharpened


@pytest.mark.parametrize("seed", range(100))
def test_a_bound_is_never_below_the_most_of_all_whole_answers_and_what_is_too_much_has_none(seed):
    asked = case(seed)
    of = (asked.cost < -2).astype(float)
    most = int((asked.whole_answers() @ of).max())
    program = asked.sharpened()
    bound = program.most(of, ROUNDS)
    assert bound is not None and bound >= most
    program.at_least(of, int(of @ asked.upper) + 1)
    assert not len(program.least(asked.cost, ROUNDS)) and program.most(of, ROUNDS) is None


def ring() -> Case:
    """Of three each two of which exclude each other one can be taken; halves would be one and a half."""
    shares = np.array([[1, 1, 0], [0, 1, 1], [1, 0, 1]])
    return Case(shares, np.ones(3), np.ones(3), -np.ones(3))


def test_halves_of_a_ring_are_no_answer():
    assert ring().sharpened().least(-np.ones(3), 0).tolist() == [0.5, 0.5, 0.5]
    assert sorted(ring().sharpened().least(-np.ones(3), 1)) == [0, 0, 1]


def test_columns_that_follow_from_the_others_may_be_parts():
    program = ring().sharpened(asked=0)
    assert program.least(-np.ones(3), ROUNDS).tolist() == [0.5, 0.5, 0.5]


def test_where_time_is_up_nothing_is_made_sharper():
    program = ring().sharpened(seconds=0.0)
    assert not program.is_whole(program.least(-np.ones(3), ROUNDS))


def test_what_is_known_already_is_not_sought_and_half_one_more_only_a_little():
    assert ring().sharpened().most(np.ones(3), ROUNDS) == 1
    double = Case(np.kron(np.eye(2, dtype=int), ring().shares), np.ones(6), np.ones(6), -np.ones(6))
    assert double.sharpened().most(np.ones(6), 0) == 3 and double.sharpened().most(np.ones(6), ROUNDS) == 2
    assert double.sharpened().most(np.ones(6), ROUNDS, known=3) == 3
