"""How much fits into stretches: the weights against a general convex hull, and against trying every way."""

from collections.abc import Sequence
from itertools import combinations_with_replacement, product
from math import gcd

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from caseload.booking.filling.room import _ALL, most_in


def fits(stretches: Sequence[int], visits: Sequence[int]) -> bool:
    """Whether visits go into stretches, longest first, by trying every way."""
    if not visits:
        return True
    left = [(at, room - visits[0]) for at, room in enumerate(stretches) if room >= visits[0]]
    return any(fits([*stretches[:at], room, *stretches[at + 1 :]], visits[1:]) for at, room in left)


@pytest.mark.parametrize("slots", range(4, 17))
def test_the_weights_are_the_facets_of_what_fits_into_one_stretch(slots: int):
    """scipy.spatial.ConvexHull (Qhull) on every number of visits that fits."""
    inside = [n for n in product(*(range(slots // k + 1) for k in (1, 2, 3, 4))) if np.dot(n, (1, 2, 3, 4)) <= slots]
    facets = ConvexHull(np.array(inside)).equations[:, :4]
    outward = facets[(facets > -1e-9).all(axis=1)]
    assert {_whole(each) for each in outward} <= set(_ALL[:7])


def _whole(normal: np.ndarray) -> tuple[int, ...]:
    """The same direction in the smallest whole numbers."""
    scaled = normal / normal[normal > 1e-9].min()
    for times in range(1, 13):
        if np.allclose(scaled * times, np.round(scaled * times), atol=1e-6):
            whole = [int(each) for each in np.round(scaled * times)]
            return tuple(each // gcd(*whole) for each in whole)
    raise AssertionError(normal)


def test_of_three_stretches_only_one_case_is_counted_as_fitting_that_does_not():
    """Visits of one slot fit wherever there is room, so only longer ones are looked at."""
    wrong = []
    for stretches in combinations_with_replacement(range(1, 10), 3):
        room = [sum(most_in(each, weight) for each in stretches) for weight in _ALL]
        for twos, threes, fours in product(*(range(sum(s // k for s in stretches) + 1) for k in (2, 3, 4))):
            counted = all(
                twos * weight[1] + threes * weight[2] + fours * weight[3] <= most
                for weight, most in zip(_ALL, room, strict=True)
            )
            if counted and not fits(stretches, [4] * fours + [3] * threes + [2] * twos):
                wrong.append((stretches, (twos, threes, fours)))
    assert wrong == [((2, 9, 9), (0, 2, 3))]
