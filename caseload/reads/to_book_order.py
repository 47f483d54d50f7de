"""The booking list in its order, worked out as far as somebody looks: it may be tens of thousands.

Whoever is as urgent stands on one step, and only the steps that are looked at are put in order by name.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from functools import cached_property
from itertools import accumulate
from typing import Final, NamedTuple, overload

from caseload.models import FollowUp
from caseload.reads.prepared import Prepared

AT_ONCE: Final = 200
"""So many are put in order at least: a page with its neighbours."""
BATCH: Final = 6400
"""So many names are asked for in one query."""


class Ranked(NamedTuple):
    """A follow-up to be booked; `usable` are the days left on which a session of its site takes it."""

    usable: int
    id: int
    patient_id: int


class Step(NamedTuple):
    """What a place hangs on before the name, most first: fewest usable days; of these who has nothing booked before
    who has a place that is not good, then stitches and wounds before reviews; then the last day."""

    usable: int
    has_place: bool
    can_wait: bool
    latest_on: date


class Order(Sequence[Ranked]):
    """Made of the keys of the follow-ups that stand on each step."""

    def __init__(self, steps: Mapping[Step, list[int]]) -> None:
        self._steps = sorted(steps.items(), key=lambda each: each[0])
        self._starts = [0, *accumulate(len(keys) for _, keys in self._steps)]
        self._done: dict[int, list[Ranked]] = {}

    def __len__(self) -> int:
        return self._starts[-1]

    def __iter__(self) -> Iterator[Ranked]:
        return iter(self[:])

    @overload
    def __getitem__(self, asked: int) -> Ranked: ...
    @overload
    def __getitem__(self, asked: slice) -> list[Ranked]: ...
    def __getitem__(self, asked: int | slice) -> Ranked | list[Ranked]:
        if isinstance(asked, slice):
            start, stop, step = asked.indices(len(self))
            return self._between(start, stop)[::step]
        place = range(len(self))[asked]
        return self._between(place, place + 1)[0]

    def around(self, start: int) -> Iterator[Ranked]:
        """From a place on, around the end."""
        for first, last in ((start, len(self)), (0, min(start, len(self)))):
            for place in range(first, last, AT_ONCE):
                yield from self[place : min(place + AT_ONCE, last)]

    def find(self, key: int | None) -> Ranked | None:
        place = self.place(key) if key is not None else None
        return None if place is None else self[place]

    def place(self, key: int) -> int | None:
        """The place of a follow-up, counted from 0; None if it is not on the list."""
        number = self.steps_of.get(key)
        if number is None:
            return None
        self._put_in_order(number, number + 1)
        return self._starts[number] + next(at for at, row in enumerate(self._done[number]) if row.id == key)

    @cached_property
    def steps_of(self) -> Mapping[int, int]:
        """The number of the step of each follow-up on the list."""
        return {key: number for number, (_, keys) in enumerate(self._steps) for key in keys}

    def _between(self, start: int, stop: int) -> list[Ranked]:
        if start >= stop:
            return []
        first, last = bisect_right(self._starts, start) - 1, bisect_left(self._starts, stop)
        self._put_in_order(first, last)
        found = [row for number in range(first, last) for row in self._done[number]]
        return found[start - self._starts[first] : stop - self._starts[first]]

    def _put_in_order(self, first: int, last: int) -> None:
        """These steps; with one before and some after, which are soon asked for, if one of them has to be."""
        if all(number in self._done for number in range(first, last)):
            return
        first = max(0, first - 1)
        last = max(last, bisect_left(self._starts, min(self._starts[first] + AT_ONCE, len(self))))
        left = [number for number in range(first, last) if number not in self._done]
        people = _people([key for number in left for key in self._steps[number][1]])
        for number in left:
            step, keys = self._steps[number]
            named = sorted((people[key][1], key) for key in keys)
            self._done[number] = [Ranked(step.usable, key, people[key][0]) for _, key in named]


def _people(follow_ups: Sequence[int]) -> dict[int, tuple[int, str]]:
    """The patient of each follow-up, by key, and what orders them by name."""
    found = {}
    for start in range(0, len(follow_ups), BATCH):
        for key, patient, name in _PEOPLE(follow_ups[start : start + BATCH]):
            found[key] = patient, name
    return found


_PEOPLE: Final = Prepared(
    lambda keys: FollowUp.objects.filter(pk__in=keys).order_by().values_list("pk", "patient_id", "patient__search_key")
)
