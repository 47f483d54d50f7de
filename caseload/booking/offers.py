"""Offers: the best places for a need, each with its reasons.

Decides: never in the past and never before the window without a clinician's approval; inside the window as long as it
has a place left; only then after it, marked with the days late. The planner proposes, people decide.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import groupby
from typing import Final, NamedTuple

from caseload.booking.cost import EARLY_FACTOR, GAP, Cost, cost_of, cost_of_session, gaps_beside
from caseload.booking.needs import Need
from caseload.booking.openings import Opening, starts, takes_all
from caseload.errors import Refusal
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way

MOST: Final = 6


class Offer(NamedTuple):
    """A place proposed: `start` is a minute of the local day; `days_late` and `days_early` are 0 inside the window."""

    session: int
    code: str
    on: date
    start: int
    minutes: int
    site: int
    therapist: int
    cost: Cost
    reasons: tuple[Reason, ...]
    days_late: int
    days_early: int


class Now(NamedTuple):
    """The local day and minute after which a place must begin."""

    today: date
    minute: int


class _Room(NamedTuple):
    """An opening with the starts it has for a need, the one that leaves fewest gaps first."""

    price: int
    opening: Opening
    starts: list[tuple[int, int]]


def offers(
    need: Need,
    openings: Iterable[Opening],
    *,
    way: Way,
    today: date,
    minute: int,
    most: int = MOST,
    approved: bool = False,
    early_factor: int = EARLY_FACTOR,
) -> tuple[Offer, ...]:
    """The best places, cheapest first: the best start of each session, and only then second starts.

    `approved` says that a clinician agreed to a day before the window. Raises Refusal `needs-in-person`.
    """
    check_way(need, way)
    ahead = [each for each in openings if each.on >= today and takes_all(each, need, way)]
    wanted = [each for each in ahead if is_inside(need, each.on)]
    found = _rooms(need, wanted, Now(today, minute), most, early_factor)
    further = [each for each in ahead if each.on < need.earliest] if approved else []
    if not found:
        further += [each for each in ahead if each.on >= need.earliest and not is_inside(need, each.on)]
    if further:
        found = _rooms(need, wanted + further, Now(today, minute), most, early_factor)
    return tuple(offer_of(need, opening, start, early_factor) for opening, start in _ranked(found)[:most])


def check_way(need: Need, way: Way) -> None:
    """Raises Refusal `needs-in-person` where stitches or a wound must be seen and the way is another."""
    if need.in_person and way is not Way.IN_PERSON:
        said = "Stitches and wounds can only be seen to in person: book a visit in person."
        raise Refusal("needs-in-person", said, field="way")


def is_inside(need: Need, on: date) -> bool:
    """Whether a day lies in the window; the latest of a provisional need does not bind."""
    return need.earliest <= on and (need.provisional or on <= need.latest)


def offer_of(need: Need, opening: Opening, start: int, early_factor: int = EARLY_FACTOR) -> Offer:
    """The place as an offer, with what it costs and why."""
    cost = cost_of(need, opening, start, early_factor)
    late = 0 if need.provisional else max(0, (opening.on - need.latest).days)
    return Offer(
        session=opening.session,
        code=opening.code,
        on=opening.on,
        start=start,
        minutes=need.minutes,
        site=opening.site,
        therapist=opening.therapist,
        cost=cost,
        reasons=tuple(_reasons(need, opening, cost, late)),
        days_late=late,
        days_early=max(0, (need.earliest - opening.on).days),
    )


def starts_after(opening: Opening, minutes: int, now: Now) -> tuple[int, ...]:
    """The starts of an opening that are not in the past."""
    if opening.on < now.today:
        return ()
    found = starts(opening, minutes)
    return tuple(start for start in found if start > now.minute) if opening.on == now.today else found


def every_place(need: Need, openings: Iterable[Opening], *, way: Way, today: date, minute: int) -> tuple[Offer, ...]:
    """All places of these openings in order of time, inside the window or not. Raises Refusal `needs-in-person`."""
    check_way(need, way)
    found = [
        offer_of(need, each, start)
        for each in openings
        if takes_all(each, need, way)
        for start in starts_after(each, need.minutes, Now(today, minute))
    ]
    return tuple(sorted(found, key=lambda offer: (offer.on, offer.start, offer.session)))


def _rooms(need: Need, openings: Sequence[Opening], now: Now, most: int, early_factor: int) -> list[_Room]:
    """The cheapest openings that have a start, at least `most` of them where there are so many.

    Gaps never outweigh a dearer session, so the dearer ones are not looked into once there are enough.
    """
    priced = sorted(
        ((cost_of_session(need, each, early_factor).total, each) for each in openings), key=lambda pair: pair[0]
    )
    rooms: list[_Room] = []
    for price, group in groupby(priced, key=lambda pair: pair[0]):
        rooms += filter(lambda room: room.starts, (_room(need, each, price, now) for _, each in group))
        if len(rooms) >= most:
            break
    return rooms


def _room(need: Need, opening: Opening, price: int, now: Now) -> _Room:
    found = starts_after(opening, need.minutes, now)
    return _Room(price, opening, sorted((gaps_beside(opening.free, start, need.minutes), start) for start in found))


def _ranked(rooms: Iterable[_Room]) -> list[tuple[Opening, int]]:
    """Best starts before second starts; then by cost, day, minute and session."""
    places = [
        (turn, room.price + gaps * GAP, room.opening.on, start, room.opening.session, room.opening)
        for room in rooms
        for turn, (gaps, start) in enumerate(room.starts)
    ]
    return [(opening, start) for *_, start, _session, opening in sorted(places, key=lambda place: place[:-1])]


def _reasons(need: Need, opening: Opening, cost: Cost, late: int) -> Iterable[Reason]:
    days = (opening.on - need.target).days
    if late:
        yield Reason("days-after-latest", (late,))
    elif opening.on < need.earliest:
        yield Reason("days-before-earliest", ((need.earliest - opening.on).days,))
    elif days:
        yield Reason("days-after-target" if days > 0 else "days-before-target", (abs(days),))
    else:
        yield Reason("target-day")
    if need.therapist is not None:
        yield Reason("other-therapist" if cost.therapist else "own-therapist")
    if not cost.gaps:
        yield Reason("no-gap")
