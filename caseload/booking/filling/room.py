"""How much fits into stretches, counted in several ways at once.

A stretch of s slots takes visits of one to four slots that add up to no more than s. Whole visits obey more than that:
two of three slots and one of two do not go into twice four, though they add up to eight. Each way of weighing lengths
gives a row that every plan obeys: the weights of all visits are at most the sum of the most that each stretch can hold.
The first seven weights below are all facets of the whole numbers of visits that fit into one stretch of up to sixteen
slots, as a test finds them anew with a general convex hull. The last two leave out what short stretches take: of up to
three stretches of ten slots each, only one case is then counted as fitting that does not fit.
"""

from functools import cache
from typing import Final

Weight = tuple[int, int, int, int]
"""What a visit of one, two, three and four slots counts."""
LONGEST: Final = 4
"""Slots of the longest visit: an hour, and twenty minutes more with an interpreter."""
_ALL: Final[tuple[Weight, ...]] = (
    (1, 2, 3, 4), (0, 1, 1, 2), (0, 1, 2, 2), (0, 1, 2, 3), (0, 0, 1, 1), (0, 0, 1, 2), (0, 0, 0, 1),
    (0, 2, 3, 4), (0, 0, 3, 4),
)  # fmt: skip
WEIGHTS: Final = {slots: tuple(each for each in _ALL if each[slots - 1]) for slots in range(1, LONGEST + 1)}
"""The ways of weighing in which a visit of so many slots counts for something."""


@cache
def most_in(slots: int, weight: Weight) -> int:
    """The most that visits in a stretch of so many slots can weigh."""
    found = [most_in(slots - size, weight) + weight[size - 1] for size in range(1, min(slots, LONGEST) + 1)]
    return max(found, default=0)
