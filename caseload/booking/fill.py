"""Filling the diary: everything that is unbooked at once, at proven least cost.

As many as can be are placed, stitches and wounds before reviews; of all such plans the one that costs least by
`booking.cost`. Gaps are kept few where the visits are laid out, and are no part of what is proven. The same input gives
the same plan. A plan proposes: people decide, and what is accepted is booked one by one.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Final

from caseload.booking.filling.parts import parts_of
from caseload.booking.filling.plan import Asked, by_time, by_urgency, canonical, placed_of, unplaced_of, what_is_left
from caseload.booking.filling.pools import pools_of
from caseload.booking.filling.stages import best_plan
from caseload.booking.filling.terms import Placed, Plan, Unplaced, Wish
from caseload.booking.offers import Now
from caseload.booking.openings import Opening

__all__ = ["LIMIT", "Placed", "Plan", "Unplaced", "Wish", "fill", "fill_by_parts", "together"]

LIMIT: Final = 60.0
"""Seconds after which the best plan found stands, with its gap."""


def fill(
    wishes: Iterable[Wish],
    openings: Iterable[Opening],
    *,
    now: Now,
    open_days: Mapping[int, Sequence[date]],
    until: date = date.max,
    limit: float = LIMIT,
) -> Plan:
    """The best plan of places up to the day `until`. `openings` may hold full sessions too, so that “all full” can be
    told from “no session”, and later ones, for who has no place; `open_days` are those of each site, in order."""
    parts = fill_by_parts(wishes, openings, now=now, open_days=open_days, until=until, limit=limit)
    return together(plan for _, _, plan in parts)


def fill_by_parts(
    wishes: Iterable[Wish],
    openings: Iterable[Opening],
    *,
    now: Now,
    open_days: Mapping[int, Sequence[date]],
    until: date = date.max,
    limit: float = LIMIT,
) -> Iterator[tuple[int, int, Plan]]:
    """Part by part, where parts share no session: (wishes done, wishes in all, what is placed of this part).

    Each part has the whole `limit`, in seconds. Last comes what has no place, for it looks at what all parts leave.
    """
    sessions, in_order = tuple(openings), sorted(wishes, key=canonical)
    parts = parts_of(in_order, pools_of((each for each in sessions if each.on <= until), now), now.today)
    done, of, left, placed = 0, len(in_order), {each.session: each for each in sessions}, set[str]()
    for part in parts:
        best = best_plan(part.wishes, part.pools, now.today, limit)
        left |= what_is_left(best.seated, part.wishes, left)
        plan = placed_of(part.wishes, best, left, now)
        placed.update(name for each in plan.placed for name in each.wish.need.names)
        done += len(part.wishes)
        yield done, of, plan
    yield of, of, unplaced_of(in_order, placed, sessions, left, Asked(now, until, open_days))


def together(plans: Iterable[Plan]) -> Plan:
    """The plans of all parts as one."""
    every = list(plans)
    return Plan(
        placed=tuple(sorted((each for plan in every for each in plan.placed), key=by_time)),
        unplaced=tuple(sorted((each for plan in every for each in plan.unplaced), key=by_urgency)),
        cost=sum(plan.cost for plan in every),
        bound=sum(plan.bound for plan in every),
        could_place=sum(plan.could_place for plan in every),
    )
