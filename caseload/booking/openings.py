"""An opening: a dated session as booking sees it, with the slots that are still free."""

from datetime import date
from typing import NamedTuple

from caseload.booking.needs import Need
from caseload.booking.slots import SLOT, slots_for
from caseload.timetable.terms import FollowUpKind, Way


class Opening(NamedTuple):
    """`free` are the first minutes of the free slots, sorted; `takes` empty is every kind of follow-up."""

    session: int
    code: str
    on: date
    site: int
    therapist: int
    start: int
    end: int
    takes: frozenset[FollowUpKind]
    ways: frozenset[Way]
    free: tuple[int, ...]


def takes_all(opening: Opening, need: Need, way: Way) -> bool:
    """Whether the session is at the site of the need and takes all of its kinds, in this way."""
    if opening.site != need.site or way not in opening.ways:
        return False
    return not opening.takes or need.kinds <= opening.takes


def starts(opening: Opening, minutes: int) -> tuple[int, ...]:
    """The minutes at which so many minutes of consecutive free slots begin."""
    if minutes <= SLOT:
        return opening.free
    free = frozenset(opening.free)
    return tuple(start for start in opening.free if free.issuperset(slots_for(start, minutes)))


def without(opening: Opening, start: int, minutes: int) -> Opening:
    """The opening once a visit has taken its slots."""
    taken = slots_for(start, minutes)
    return opening._replace(free=tuple(slot for slot in opening.free if slot not in taken))
