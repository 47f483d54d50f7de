"""What can be planned by itself: wishes and pools that no other wish or pool has to do with."""

from collections import defaultdict
from collections.abc import Hashable, Sequence
from datetime import date
from typing import NamedTuple

from caseload.booking.filling.model import Model
from caseload.booking.filling.pools import Pool
from caseload.booking.filling.terms import Wish


class Part(NamedTuple):
    wishes: tuple[Wish, ...]
    pools: tuple[Pool, ...]


def parts_of(wishes: Sequence[Wish], pools: Sequence[Pool], today: date) -> list[Part]:
    """In the order of their first wishes; wishes that can go nowhere are in none."""
    model, groups = Model(wishes, pools, today), _Groups()
    for column in model.columns:
        wish = wishes[column.wish]
        for other in (("patient", wish.patient), *(("name", name) for name in wish.need.names)):
            groups.join(("pool", column.pool), other)
    return [
        Part(tuple(wishes[at] for at in sorted(own)), tuple(pools[at] for at in sorted(held)))
        for own, held in _split(model, groups)
    ]


def _split(model: Model, groups: "_Groups") -> list[tuple[set[int], set[int]]]:
    found: dict[Hashable, tuple[set[int], set[int]]] = defaultdict(lambda: (set(), set()))
    for column in model.columns:
        own, held = found[groups.of(("pool", column.pool))]
        own.add(column.wish)
        held.add(column.pool)
    return list(found.values())


class _Groups:
    """Which things belong together, each group named by one of them."""

    def __init__(self) -> None:
        self.above: dict[Hashable, Hashable] = {}

    def of(self, thing: Hashable) -> Hashable:
        while (above := self.above.setdefault(thing, thing)) != thing:
            self.above[thing] = self.above[above]
            thing = above
        return thing

    def join(self, one: Hashable, other: Hashable) -> None:
        self.above[self.of(one)] = self.of(other)
