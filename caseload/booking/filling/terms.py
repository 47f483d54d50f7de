"""What is to be placed, and a plan of it."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from caseload.booking.needs import Need
from caseload.booking.offers import Now, Offer
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way


class Wish(NamedTuple):
    """One visit to be placed. Wishes that share a name exclude each other: one visit for two follow-ups is tried
    before two visits. `not_on` are days on which the patient is seen already."""

    patient: int
    need: Need
    way: Way = Way.IN_PERSON
    not_on: frozenset[date] = frozenset()


class Horizon(NamedTuple):
    """From when and until when places are looked for, and the open days of each site in order, as far as plans go."""

    now: Now
    open_days: Mapping[int, Sequence[date]]
    until: date = date.max


class Placed(NamedTuple):
    """A wish with its place. `next_best` is how many points more its next best free place costs if nobody else moves,
    None where there is none inside its window."""

    wish: Wish
    offer: Offer
    next_best: int | None


class Unplaced(NamedTuple):
    """A wish without a place: `why` is `no-open-day`, `no-session` or `all-full`; what would place it: `after`, the
    first place after its window that the plan leaves free, and `session_on`, the open day nearest its target on which
    one more session would."""

    wish: Wish
    why: Reason
    after: Offer | None
    session_on: date | None


class Plan(NamedTuple):
    """In order of day and time, of those unplaced most urgent first. No plan that places as many, as urgent, costs
    less than `bound`, in points; `cost` is that of this one, gaps left out; proven where they are equal.

    `could_place` is how many follow-ups any plan can place at most; `placed` follow-ups are those of its names.
    """

    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...]
    cost: int
    bound: int
    could_place: int

    @property
    def follow_ups(self) -> int:
        """How many follow-ups have a place."""
        return sum(len(each.wish.need.names) for each in self.placed)

    @property
    def proven(self) -> bool:
        return self.cost <= self.bound and self.could_place == self.follow_ups
