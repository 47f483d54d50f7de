"""What a place costs: every weight of booking, and of filling the diary, is named here.

In this order, each deciding only where all before it are equal: days from the target; on a tie the later day; the
patient's own therapist; few gaps. Each weight is more than all below it together, so the order holds at any distance.
Costs are whole numbers, so that those of a plan add up.
"""

from collections.abc import Collection
from datetime import date
from typing import Final, NamedTuple

from caseload.booking.needs import Need
from caseload.booking.openings import Opening
from caseload.booking.slots import SLOT, slots_for

GAP: Final = 1
"""For each side on which a free slot is left right beside the visit: at most two."""
OTHER_THERAPIST: Final = 4
TIE: Final = 8
"""For a day before the target, so that of two days as near the later is taken."""
DAY_AWAY: Final = 16
SECOND_VISIT: Final = 60 * DAY_AWAY
"""For each visit of somebody who could have been seen for more at once: no window is so long that it would pay."""
EARLY_FACTOR: Final = 4
"""Before the earliest day each day counts so many times: the wound is held by stitches alone. A clinic may set it."""


class Cost(NamedTuple):
    """The parts of a cost, in points; their sum is what places are compared by."""

    distance: int
    tie: int
    therapist: int
    gaps: int

    @property
    def total(self) -> int:
        return self.distance + self.tie + self.therapist + self.gaps


def cost_of(need: Need, opening: Opening, start: int, early_factor: int = EARLY_FACTOR) -> Cost:
    """What it costs to place a need at a start of an opening."""
    gaps = gaps_beside(opening.free, start, need.minutes) * GAP
    return cost_of_session(need, opening, early_factor)._replace(gaps=gaps)


def cost_of_session(need: Need, opening: Opening, early_factor: int = EARLY_FACTOR) -> Cost:
    """What every start of an opening costs before gaps: a session dearer by this is dearer at every start."""
    return cost_of_day(need, opening.on, need.therapist in (None, opening.therapist), early_factor)


def cost_of_day(need: Need, on: date, own: bool, early_factor: int = EARLY_FACTOR) -> Cost:
    """What a day costs with the patient's own therapist (or where nobody is), or with another."""
    days = (on - need.target).days
    times = early_factor if on < need.earliest else 1
    return Cost(
        distance=abs(days) * times * DAY_AWAY,
        tie=TIE if days < 0 else 0,
        therapist=0 if own else OTHER_THERAPIST,
        gaps=0,
    )


def gaps_beside(free: Collection[int], start: int, minutes: int) -> int:
    """On how many sides of a visit a free slot would be left right beside it: 0, 1 or 2."""
    return (start - SLOT in free) + (slots_for(start, minutes)[-1] + SLOT in free)
