"""An answer laid out: who goes into which stretch of a pool, and at which minute.

Long visits first, each into the stretch that it leaves least of; whoever is to see their own therapist before the rest.
Where that fails, a small program says whether it can be done at all.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from caseload.booking.filling.pools import Pool, Stretch
from caseload.booking.slots import SLOT
from caseload.booking.solver import Columns, solve


class Visit(NamedTuple):
    """A wish (by its place in the list) of so many slots; `therapist` where it must be theirs."""

    wish: int
    slots: int
    therapist: int | None


class Seated(NamedTuple):
    wish: int
    stretch: Stretch
    start: int


def lay_out(pool: Pool, visits: Sequence[Visit]) -> list[Seated] | None:
    """Everybody's place in the pool, None where there is no room for all of them together."""
    order = sorted(visits, key=_longest_first)
    held = _best_fit(pool, order) or _by_program(pool, order)
    return None if held is None else list(_seated(pool, order, held))


def seat_some(pool: Pool, visits: Sequence[Visit]) -> list[Seated]:
    """As many as find a place one after the other, where time is up for more."""
    order = sorted(visits, key=_longest_first)
    held = _fitted(pool, order)
    return list(_seated(pool, [each for each, at in zip(order, held, strict=True) if at is not None],
                        [at for at in held if at is not None]))  # fmt: skip


def _longest_first(visit: Visit) -> tuple[int, bool, int]:
    return -visit.slots, visit.therapist is None, visit.wish


def _best_fit(pool: Pool, order: Sequence[Visit]) -> list[int] | None:
    """For each visit the stretch, by its place in the pool."""
    held = [at for at in _fitted(pool, order) if at is not None]
    return held if len(held) == len(order) else None


def _fitted(pool: Pool, order: Iterable[Visit]) -> list[int | None]:
    left = [stretch.slots for stretch in pool.stretches]
    held: list[int | None] = []
    for visit in order:
        able = [at for at, room in enumerate(left) if room >= visit.slots and _suits(pool.stretches[at], visit)]
        best = min(able, key=lambda at: left[at], default=None)
        if best is not None:
            left[best] -= visit.slots
        held.append(best)
    return held


def _suits(stretch: Stretch, visit: Visit) -> bool:
    return visit.therapist is None or stretch.opening.therapist == visit.therapist


def _by_program(pool: Pool, order: Sequence[Visit]) -> list[int] | None:
    """The same by whole numbers: how many of each sort of visit go into each stretch."""
    sorts = Counter((each.slots, each.therapist) for each in order)
    pairs = [(sort, at) for sort in sorts for at, stretch in enumerate(pool.stretches)
             if stretch.slots >= sort[0] and sort[1] in (None, stretch.opening.therapist)]  # fmt: skip
    row = {sort: number for number, sort in enumerate(sorts)}
    rows = [entry for sort, at in pairs for entry in (row[sort], len(sorts) + at)]
    values = [entry for (slots, _), _ in pairs for entry in (1.0, float(slots))]
    needed = np.array([*sorts.values()], float)
    answer = solve(
        np.zeros(len(pairs)),
        np.array([sorts[sort] for sort, _ in pairs], float),
        Columns(np.arange(0, 2 * len(pairs) + 1, 2), np.array(rows), np.array(values)),
        np.concatenate([needed, np.full(len(pool.stretches), -np.inf)]),
        np.concatenate([needed, np.array([each.slots for each in pool.stretches], float)]),
    )
    return _handed_out(order, pairs, answer.values) if answer.proven else None


def _handed_out(
    order: Sequence[Visit], pairs: Sequence[tuple[tuple[int, int | None], int]], numbers: Iterable[float]
) -> list[int]:
    places: dict[tuple[int, int | None], list[int]] = {}
    for (sort, at), number in zip(pairs, numbers, strict=True):
        places.setdefault(sort, []).extend([at] * int(number))
    return [places[each.slots, each.therapist].pop(0) for each in order]


def _seated(pool: Pool, order: Sequence[Visit], held: Sequence[int]) -> Iterable[Seated]:
    """One after the other from the beginning of each stretch, so that what stays free is in one piece."""
    begin = [stretch.start for stretch in pool.stretches]
    for visit, at in zip(order, held, strict=True):
        yield Seated(visit.wish, pool.stretches[at], begin[at])
        begin[at] += visit.slots * SLOT
