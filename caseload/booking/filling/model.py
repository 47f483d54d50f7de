"""The program of filling: who may go where, and how much room there is.

A wish has a column for each pool it may go to: to be seen somewhere in it, or there by its own therapist. The stretches
of each therapist in a pool have a column for each length of visit: how many places of that length they give. Rows: each
follow-up is seen once; a patient comes once a day; no more are seen than places are given, by anybody and by their own
therapist; and the places given fit into the stretches, in each of the ways of `filling.room`.

Every plan is an answer, so the least cost of an answer is a bound for every plan. Not every answer can be laid out;
`filling.stages` sees to that.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from functools import cached_property
from typing import NamedTuple

import numpy as np

from caseload.booking.cost import SECOND_VISIT, cost_of_day
from caseload.booking.filling.matrix import Entry, Matrix
from caseload.booking.filling.pools import Pool, Stretch, days_of, length
from caseload.booking.filling.room import WEIGHTS, most_in
from caseload.booking.filling.terms import Wish
from caseload.booking.needs import URGENT
from caseload.booking.openings import takes_all
from caseload.booking.solver import Columns, Floats


class Column(NamedTuple):
    """A wish (by its place in the list) in a pool, in a session of its own therapist or in any; in points."""

    wish: int
    pool: int
    own: bool
    cost: int


class Places(NamedTuple):
    """How many visits of so many slots some stretches of a pool have place for: those of a therapist, those of all whom
    nobody asks for (None), or one of these alone (its place among them, else -1)."""

    pool: int
    therapist: int | None
    stretch: int
    slots: int


class Program(NamedTuple):
    """First the columns of the wishes, then those of `places`. `worth` is how much each places, by urgency; `lower` and
    `upper` are those of the rows, of which the first `names` are the follow-ups."""

    columns: Columns
    cost: Floats
    most: Floats
    worth: Floats
    lower: Floats
    upper: Floats
    names: int
    places: tuple[Places, ...]


class Model:
    """Wishes and pools as a program. Wishes come in an order of the caller's that depends on nothing but them."""

    def __init__(
        self, wishes: Sequence[Wish], pools: Sequence[Pool], today: date, apart: frozenset[int] = frozenset()
    ) -> None:
        """In the pools `apart` each stretch has places of its own."""
        self.wishes = wishes
        self.pools = pools
        self.today = today
        self.apart = apart
        self.parts = _parts_of_joint(wishes)
        self.columns = list(self._columns(today))

    def taken_apart(self, failed: Iterable[int]) -> "Model":
        """The same with some pools seen stretch by stretch."""
        return Model(self.wishes, self.pools, self.today, self.apart.union(failed))

    def _columns(self, today: date) -> Iterator[Column]:
        by_site: dict[int, list[tuple[int, Pool]]] = defaultdict(list)
        for at, pool in enumerate(self.pools):
            by_site[pool.like.site].append((at, pool))
        for number, wish in enumerate(self.wishes):
            first, last = days_of(wish.need, today)
            for at, pool in by_site[wish.need.site]:
                if first <= pool.like.on <= last and pool.like.on not in wish.not_on:
                    yield from self._in_pool(number, wish, at, pool)

    def _in_pool(self, number: int, wish: Wish, at: int, pool: Pool) -> Iterator[Column]:
        need, slots = wish.need, length(wish.need)
        if slots > pool.longest or not takes_all(pool.like, need, wish.way):
            return
        more = SECOND_VISIT if number in self.parts else 0
        if need.therapist is not None and len(pool.of) > 1 and slots <= pool.longest_of.get(need.therapist, 0):
            yield Column(number, at, True, cost_of_day(need, pool.like.on, True).total + more)
        own = need.therapist is None or tuple(pool.of) == (need.therapist,)
        yield Column(number, at, False, cost_of_day(need, pool.like.on, own).total + more)

    @cached_property
    def worth(self) -> dict[str, int]:
        """Of each follow-up: one for stitches or a wound is worth more than all reviews together."""
        urgent: dict[str, bool] = {}
        for wish in sorted(self.wishes, key=lambda each: len(each.need.names)):
            for name in wish.need.names:
                urgent.setdefault(name, bool(wish.need.kinds & URGENT))
        above = 1 + sum(not each for each in urgent.values())
        return {name: above if each else 1 for name, each in urgent.items()}

    @cached_property
    def places(self) -> dict[Places, tuple[Stretch, ...]]:
        """With the stretches that give them, in an order that depends on nothing but the columns."""
        lengths: dict[int, set[int]] = defaultdict(set)
        asked: dict[int, set[int]] = defaultdict(set)
        for each in self.columns:
            need = self.wishes[each.wish].need
            lengths[each.pool].add(length(need))
            if each.own and need.therapist is not None:
                asked[each.pool].add(need.therapist)
        return {
            Places(at, therapist, stretch, slots): held
            for at in sorted(lengths)
            for therapist, stretches in self.pools[at].shared(asked[at]).items()
            for stretch, held in self._shares(at, stretches)
            for slots in sorted(lengths[at])
            if any(each.slots >= slots for each in held)
        }

    def _shares(self, pool: int, stretches: tuple[Stretch, ...]) -> list[tuple[int, tuple[Stretch, ...]]]:
        return [(at, (each,)) for at, each in enumerate(stretches)] if pool in self.apart else [(-1, stretches)]

    @cached_property
    def program(self) -> Program:
        matrix = Matrix([("name", name) for name in self.worth], 1)
        several = _patients_of_several(self.wishes)
        for column in self.columns:
            matrix.column(self._seen(column, several))
        for places, stretches in self.places.items():
            matrix.column(_given(places, stretches))
        wished, most = len(self.columns), [sum(s.slots // p.slots for s in own) for p, own in self.places.items()]
        worth = [sum(self.worth[name] for name in self.wishes[each.wish].need.names) for each in self.columns]
        return Program(
            columns=matrix.columns,
            cost=np.array([each.cost for each in self.columns] + [0] * len(most), float),
            most=np.array([1] * wished + most, float),
            worth=np.array(worth + [0] * len(most), float),
            lower=np.full(len(matrix.limits), -np.inf),
            upper=np.array(matrix.limits, float),
            names=len(self.worth),
            places=tuple(self.places),
        )

    def _seen(self, column: Column, several: set[int]) -> Iterator[Entry]:
        """What a column of a wish has a share in."""
        wish = self.wishes[column.wish]
        for name in wish.need.names:
            yield ("name", name), 1, 1
        if wish.patient in several:
            yield ("day", wish.patient, self.pools[column.pool].like.on), 1, 1
        slots = length(wish.need)
        yield ("seen", column.pool, slots), 1, 0
        if column.own:
            yield ("own", column.pool, wish.need.therapist, slots), 1, 0


def _given(places: Places, stretches: Sequence[Stretch]) -> Iterator[Entry]:
    yield ("seen", places.pool, places.slots), -1, 0
    if places.therapist is not None:
        yield ("own", places.pool, places.therapist, places.slots), -1, 0
    for weight in WEIGHTS[places.slots]:
        room = sum(most_in(each.slots, weight) for each in stretches)
        yield ("room", places[:3], weight), weight[places.slots - 1], room


def _parts_of_joint(wishes: Sequence[Wish]) -> set[int]:
    """The wishes for which there is another that serves more with the same visit."""
    joint: dict[str, set[str]] = {}
    for wish in wishes:
        for name in wish.need.names:
            joint.setdefault(name, set())
            if len(wish.need.names) > len(joint[name]):
                joint[name] = set(wish.need.names)
    return {at for at, wish in enumerate(wishes) if any(set(wish.need.names) < joint[name] for name in wish.need.names)}


def _patients_of_several(wishes: Sequence[Wish]) -> set[int]:
    seen: set[int] = set()
    return {wish.patient for wish in wishes if wish.patient in seen or seen.add(wish.patient)}  # type: ignore[func-returns-value]
