"""Rehousing: a session falls away, and its patients are found other places.

In this order: most of them inside their windows, stitches and wounds before reviews; fewest others moved, and none
unless that is allowed; fewest days late; least cost, gaps counted by what is free now. Each breach is named by its
offer's `days_late`. Nobody who makes room loses a window, or is moved from a place to one that is not whole.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Final

from caseload.booking.offers import Now, Offer, offer_of
from caseload.booking.openings import Opening, takes_all
from caseload.booking.rehousing.optimum import best_choice
from caseload.booking.rehousing.places import NOBODY, Diary, Visit, diary_of
from caseload.booking.rehousing.terms import Kept, Lost, Proposal, Rehousing, urgency
from caseload.booking.slots import slots_for
from caseload.timetable.plan import Reason

__all__ = ["LIMIT", "Kept", "Lost", "Proposal", "Rehousing", "rehouse", "rehouse_moving"]

LIMIT: Final = 10.0
"""Seconds."""


def rehouse(lost: Iterable[Lost], openings: Iterable[Opening], *, today: date, minute: int) -> tuple[Proposal, ...]:
    """A proposal for each, in order of latest day. No two share a slot, and nobody else is moved."""
    return rehouse_moving(lost, (), openings, today=today, minute=minute).proposals


def rehouse_moving(
    lost: Iterable[Lost],
    kept: Iterable[Kept],
    openings: Iterable[Opening],
    *,
    today: date,
    minute: int,
    limit: float = LIMIT,
) -> Rehousing:
    """As `rehouse`, but others may move inside their windows where that saves a window of somebody lost.

    `openings` are all sessions, also full ones; `free` leaves out the slots of `kept`. Who is seen today, or was, and
    whose session is not among the openings, does not move. After `limit` seconds the best found stands.
    """
    queue, sessions = sorted(lost, key=urgency), tuple(openings)
    stay = sorted(kept, key=urgency)
    diary = diary_of(queue, stay, sessions, Now(today, minute))
    choice = best_choice(diary, limit)
    offers = _offers(diary, choice.places)
    proposals = (_proposal(each, offers.get(at), sessions) for at, each in enumerate(diary.visits[: len(queue)]))
    moved = [at for at in offers if at >= len(queue)]
    moved.sort(key=lambda at: diary.visits[at].held)
    return Rehousing(
        tuple(proposals),
        tuple(Proposal(diary.visits[at].appointment, offers[at], None) for at in moved),
        choice.proven,
    )


def _proposal(visit: Visit, offer: Offer | None, openings: Sequence[Opening]) -> Proposal:
    if offer:
        return Proposal(visit.appointment, offer, None)
    suits = any(takes_all(each, visit.need, visit.way) for each in openings)
    return Proposal(visit.appointment, None, Reason("all-full" if suits else "no-session-takes"))


def _offers(diary: Diary, chosen: Mapping[int, int]) -> dict[int, Offer]:
    """By visit; what stays free beside each is what is left once all of it is done."""
    sessions = {each.session: each for each in diary.openings}
    places = {at: diary.slots[first] for at, first in chosen.items()}
    held = {at: diary.slots[each.held] for at, each in enumerate(diary.visits) if each.held != NOBODY}
    busy = {
        (session, slot)
        for at, (session, start) in (held | places).items()
        for slot in slots_for(start, diary.visits[at].need.minutes)
    }
    return {at: _offer(diary.visits[at], sessions[session], start, busy) for at, (session, start) in places.items()}


def _offer(visit: Visit, opening: Opening, start: int, busy: set[tuple[int, int]]) -> Offer:
    own = slots_for(start, visit.need.minutes)
    free = tuple(slot for slot in opening.free if slot in own or (opening.session, slot) not in busy)
    return offer_of(visit.need, opening._replace(free=free), start)
