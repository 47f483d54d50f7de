"""Waits for tests: published lists as they are printed, and invented ones that are tied, open and watched late."""

from collections.abc import Iterable, Sequence

import numpy as np

from caseload.waits.rows import Days, Waits

WORDS = ("waiting", "seen", "declined", "died")

# Freireich, Blood 1963; 21: 699, as in many textbooks: weeks of remission with 6-mercaptopurine and with placebo.
SIX_MP_SEEN = (6, 6, 6, 7, 10, 13, 16, 22, 23)
SIX_MP_OPEN = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
PLACEBO_SEEN = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def waits(
    days: Sequence[int],
    ended: Sequence[int],
    entered: Iterable[int] = (),
    number: Iterable[int] = (),
    words: tuple[str, ...] = WORDS,
) -> Waits:
    """`ended` are places in `words`; all are watched from day 0, and each stands for one, unless it is said."""
    late, alike = list(entered) or [0] * len(days), list(number) or [1] * len(days)
    return Waits(_column(days), _column(ended), _column(late), _column(alike), words)


def _column(numbers: Sequence[int]) -> Days:
    return np.array(numbers, np.int64)


def seen_and_open(seen: Sequence[int], still: Sequence[int] = ()) -> Waits:
    """As published: the days on which it happened, and those on which it had not happened yet."""
    return waits([*seen, *still], [1] * len(seen) + [0] * len(still))


def six_mp() -> Waits:
    return seen_and_open(SIX_MP_SEEN, SIX_MP_OPEN)


def placebo() -> Waits:
    return seen_and_open(PLACEBO_SEEN)


def invented(seed: int, size: int, *, late: bool, longest: int = 40, ways: int = len(WORDS)) -> Waits:
    """Many ties; `ways` is how many of WORDS they end in; `late`: every third came when it had been waiting."""
    dice = np.random.default_rng(seed)
    days = dice.integers(0, longest, size)
    entered = np.where(dice.random(size) < late / 3, dice.integers(0, days + 1), 0)
    return waits(days.tolist(), dice.integers(0, ways, size).tolist(), entered.tolist())


def one_by_one(of: Waits) -> Waits:
    """The same waits, each in a row of its own."""
    days, ended, entered = (np.repeat(column, of.number) for column in of[:3])
    return Waits(days, ended, entered, np.ones_like(days), of.words)


def shuffled(of: Waits, seed: int) -> Waits:
    order = np.random.default_rng(seed).permutation(len(of.days))
    days, ended, entered, number = (column[order] for column in of[:4])
    return Waits(days, ended, entered, number, of.words)
