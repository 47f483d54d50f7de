"""An answer to begin with, as somebody would book: the most urgent first, each where it costs least of what is left."""

from collections import defaultdict
from collections.abc import Hashable

import numpy as np

from caseload.booking.filling.model import Column, Model
from caseload.booking.filling.pools import length
from caseload.booking.solver import Floats


def one_by_one(model: Model) -> Floats:
    """Values of the program's columns."""
    left = [[each.slots for each in pool.stretches] for pool in model.pools]
    taken, given = set[Hashable](), defaultdict[tuple[int, int, int], int](int)
    program = model.program
    values = np.zeros(len(program.cost))
    for at in np.lexsort((program.cost[: len(model.columns)], -program.worth[: len(model.columns)])):
        column = model.columns[at]
        wish = model.wishes[column.wish]
        once = {*wish.need.names, (wish.patient, model.pools[column.pool].like.on)}
        stretch = None if once & taken else _room(model, column, left[column.pool])
        if stretch is not None:
            taken |= once
            left[column.pool][stretch] -= length(wish.need)
            given[column.pool, stretch, length(wish.need)] += 1
            values[at] = 1
    for at, places in enumerate(program.places, len(model.columns)):
        own = {id(each) for each in model.places[places]}
        stretches = model.pools[places.pool].stretches
        values[at] = sum(given[places.pool, n, places.slots] for n, each in enumerate(stretches) if id(each) in own)
    return values


def _room(model: Model, column: Column, left: list[int]) -> int | None:
    """The stretch that the visit would leave least of."""
    need = model.wishes[column.wish].need
    stretches = model.pools[column.pool].stretches
    able = [at for at, room in enumerate(left) if room >= length(need)
            and (not column.own or stretches[at].opening.therapist == need.therapist)]  # fmt: skip
    return min(able, key=lambda at: left[at], default=None)
