"""Filling the diary: everything that is unbooked at once, at proven least cost.

As many as can be are placed, stitches and wounds before reviews; of all such plans the one that costs least by
`booking.cost`. Gaps are kept few where the visits are laid out, and are no part of what is proven. The same input gives
the same plan. A plan proposes: people decide, and what is accepted is booked one by one.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Final, NamedTuple

from caseload.booking.needs import Need
from caseload.booking.offers import Now, Offer
from caseload.booking.openings import Opening
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way

LIMIT: Final = 60.0
"""Seconds after which the best plan found stands, with its gap."""


class Wish(NamedTuple):
    """One visit to be placed. Wishes that share a name exclude each other: one visit for two follow-ups is tried
    before two visits. `not_on` are days on which the patient is seen already."""

    patient: int
    need: Need
    way: Way = Way.IN_PERSON
    not_on: frozenset[date] = frozenset()


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

    `could_place` is how many wishes any plan can place at most.
    """

    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...]
    cost: int
    bound: int
    could_place: int

    @property
    def proven(self) -> bool:
        return self.cost == self.bound and self.could_place == len(self.placed)


Tell = Callable[[int, int], None]


def fill(
    wishes: Iterable[Wish],
    openings: Iterable[Opening],
    *,
    now: Now,
    open_days: Mapping[int, Sequence[date]],
    limit: float = LIMIT,
) -> Plan:
    """The best plan. `open_days` are those of each site, in order, as far as plans go."""
    raise NotImplementedError


def fill_by_parts(
    wishes: Iterable[Wish],
    openings: Iterable[Opening],
    *,
    now: Now,
    open_days: Mapping[int, Sequence[date]],
    limit: float = LIMIT,
) -> Iterator[tuple[int, int, Plan]]:
    """Part by part, where parts share no session: (wishes done, wishes in all, the plan of this part)."""
    raise NotImplementedError


def together(plans: Iterable[Plan]) -> Plan:
    """The plans of all parts as one."""
    raise NotImplementedError
