"""What is free, as filling sees it: stretches, and pools of stretches that are alike.

A stretch is a run of free slots of one session. Visits go into it one after the other, so they fit exactly if their
lengths add up to no more than it has: the minute of a visit need not be decided before everything else is. All
stretches of a day and site in sessions that take the same kinds in the same ways cost a visit the same, but for whose
session it is: they are one pool.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, timedelta
from functools import cached_property
from typing import Final, NamedTuple

from caseload.booking.needs import Need
from caseload.booking.offers import Now, starts_after
from caseload.booking.openings import Opening
from caseload.booking.slots import SLOT, slots_for

SEEN_LATE_WITHIN: Final = timedelta(days=21)
"""So far ahead somebody whose window is past is still given a place."""


class Stretch(NamedTuple):
    """`slots` free slots one after the other, the first at the minute `start`."""

    opening: Opening
    start: int
    slots: int


class Pool:
    """Stretches of one day and site that take the same visits."""

    def __init__(self, stretches: Iterable[Stretch]) -> None:
        self.stretches = tuple(stretches)
        self.like = self.stretches[0].opening
        """What all of them have in common: day, site, what they take."""

    @cached_property
    def of(self) -> dict[int, tuple[Stretch, ...]]:
        """The stretches of each therapist."""
        found: dict[int, list[Stretch]] = defaultdict(list)
        for each in self.stretches:
            found[each.opening.therapist].append(each)
        return {therapist: tuple(own) for therapist, own in found.items()}

    def shared(self, asked: Collection[int]) -> dict[int | None, tuple[Stretch, ...]]:
        """The stretches of each therapist who is asked for, and under None those of all others."""
        others = tuple(each for each in self.stretches if each.opening.therapist not in asked)
        own: dict[int | None, tuple[Stretch, ...]] = {each: self.of[each] for each in self.of if each in asked}
        return own | {None: others}

    @cached_property
    def longest(self) -> int:
        return max(each.slots for each in self.stretches)

    @cached_property
    def longest_of(self) -> dict[int, int]:
        return {therapist: max(each.slots for each in own) for therapist, own in self.of.items()}


def length(need: Need) -> int:
    """In slots; a slot begun is taken whole."""
    return len(slots_for(0, need.minutes))


def pools_of(openings: Iterable[Opening], now: Now) -> tuple[Pool, ...]:
    """In order of day and of what they take; what is past is left out."""
    found: dict[tuple[object, ...], list[Stretch]] = defaultdict(list)
    for opening in sorted(openings, key=lambda each: (each.on, each.start, each.session)):
        key = (opening.on, opening.site, tuple(sorted(opening.takes)), tuple(sorted(opening.ways)))
        found[key] += stretches_of(opening, now)
    return tuple(Pool(found[key]) for key in sorted(found) if found[key])


def stretches_of(opening: Opening, now: Now) -> list[Stretch]:
    found: list[Stretch] = []
    for minute in starts_after(opening, SLOT, now):
        if found and minute == found[-1].start + found[-1].slots * SLOT:
            found[-1] = found[-1]._replace(slots=found[-1].slots + 1)
        else:
            found.append(Stretch(opening, minute, 1))
    return found


def days_of(need: Need, today: date) -> tuple[date, date]:
    """The first and last day on which it may be seen: its window; where that is past, from today.

    What is provisional moves along with today, and is never late.
    """
    last = need.latest
    if last < today:
        last = today + (need.latest - need.earliest if need.provisional else SEEN_LATE_WITHIN)
    return max(need.earliest, today), last
