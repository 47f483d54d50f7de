"""Filling the diary: everything that is unbooked at once, at proven least cost.

As many as can be are placed, stitches and wounds before reviews; of all such plans the one that costs least by
`booking.cost`. Gaps are kept few where the visits are laid out, and are no part of what is proven. The same input gives
the same plan. A plan proposes: people decide, and what is accepted is booked one by one.
"""

from collections.abc import Iterable, Iterator
from typing import Final

from caseload.booking.filling.parts import parts_of
from caseload.booking.filling.plan import by_time, by_urgency, canonical, placed_of, unplaced_of, what_is_left
from caseload.booking.filling.pools import pools_of
from caseload.booking.filling.stages import best_plan
from caseload.booking.filling.terms import Horizon, Placed, Plan, Unplaced, Wish
from caseload.booking.openings import Opening

__all__ = ["LIMIT", "Horizon", "Placed", "Plan", "Unplaced", "Wish", "fill", "fill_by_parts", "together"]

LIMIT: Final = 60.0
"""Seconds after which the best plan found stands, with its gap."""


def fill(wishes: Iterable[Wish], openings: Iterable[Opening], horizon: Horizon, limit: float = LIMIT) -> Plan:
    """The best plan. `openings` may hold full sessions too, so that “all full” can be told from “no session”, and those
    after the horizon, for who has no place within it."""
    return together(plan for _, _, plan in fill_by_parts(wishes, openings, horizon, limit))


def fill_by_parts(
    wishes: Iterable[Wish], openings: Iterable[Opening], horizon: Horizon, limit: float = LIMIT
) -> Iterator[tuple[int, int, Plan]]:
    """Part by part, where parts share no session: (wishes done, wishes in all, what is placed of this part).

    Each part has the whole `limit`, in seconds. Last comes what has no place, for it looks at what all parts leave.
    """
    now = horizon.now
    sessions, in_order = tuple(openings), sorted(wishes, key=canonical)
    parts = parts_of(in_order, pools_of((each for each in sessions if each.on <= horizon.until), now), now.today)
    done, of, left, placed = 0, len(in_order), {each.session: each for each in sessions}, set[str]()
    for part in parts:
        best = best_plan(part.wishes, part.pools, now.today, limit)
        left |= what_is_left(best.seated, part.wishes, left)
        plan = placed_of(part.wishes, best, left, now)
        placed.update(name for each in plan.placed for name in each.wish.need.names)
        done += len(part.wishes)
        yield done, of, plan
    yield of, of, unplaced_of(in_order, placed, sessions, left, horizon)


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
