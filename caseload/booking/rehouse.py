"""Rehousing: a session falls away, and its patients are found other places (trade, section 5).

In order of latest day, each takes its best place, and the slots it takes are gone for the next. Where one would be left
without a place inside its window, earlier ones change places for it if they can (augmenting paths, as in bipartite
matching): for visits of one slot no window is then breached that need not be. For longer visits this is a good answer,
not always the best; the exact optimum is a later piece of work. Those left over get the first places after their
windows, once everybody else is inside: fewest breaches first, and each is named by its offer's `days_late`.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Final, NamedTuple

from caseload.booking.needs import Need
from caseload.booking.offers import Now, Offer, is_inside, offer_of, offers, starts_after
from caseload.booking.openings import Opening, takes_all, without
from caseload.booking.slots import slots_for
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way

LIMIT: Final = 10.0
"""Seconds."""
Place = tuple[int, int]
"""A session and a minute of it: where a visit starts, or a slot."""


class Lost(NamedTuple):
    """An appointment whose session fell away."""

    appointment: int
    need: Need
    way: Way


class Proposal(NamedTuple):
    """Where it could go, or why nowhere. An offer with `days_late` above 0 breaches the window."""

    appointment: int
    offer: Offer | None
    why_none: Reason | None


class Kept(NamedTuple):
    """Somebody else's appointment that may move: where it is now. It keeps its window and its length."""

    appointment: int
    need: Need
    way: Way
    session: int
    start: int


class Rehousing(NamedTuple):
    """A proposal for each lost appointment, in order of latest day; `moves` are those of the others who would move, in
    order of the day they have now. Not `proven` where the time did not suffice to show that there is no better."""

    proposals: tuple[Proposal, ...]
    moves: tuple[Proposal, ...]
    proven: bool


def rehouse(lost: Iterable[Lost], openings: Iterable[Opening], *, today: date, minute: int) -> tuple[Proposal, ...]:
    """A proposal for each, in order of latest day. No two share a slot."""
    queue = sorted((_way_it_can_be(each) for each in lost), key=_urgency)
    plan = _Plan(queue, openings, Now(today, minute))
    for settle in (plan.place_inside, plan.place_after):
        for at in range(len(queue)):
            settle(at)
    return tuple(plan.proposal(at) for at in range(len(queue)))


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
    return Rehousing(rehouse(lost, openings, today=today, minute=minute), (), proven=False)


def _way_it_can_be(lost: Lost) -> Lost:
    """What needs to be seen in person is rehoused in person, however it was booked."""
    return lost._replace(way=Way.IN_PERSON) if lost.need.in_person else lost


def _urgency(lost: Lost) -> tuple[date, date, int]:
    return lost.need.latest, lost.need.earliest, lost.appointment


class _Plan:
    """Who holds which slot while places are given out. Visits are named by their place in the queue."""

    def __init__(self, queue: Sequence[Lost], openings: Iterable[Opening], now: Now) -> None:
        self.queue = queue
        self.now = now
        self.openings = {each.session: each for each in openings}
        self.left = dict(self.openings)
        self.suitable = [self._suitable(each) for each in queue]
        self.places: dict[int, Place] = {}
        self.holders: dict[Place, int] = {}

    def place_inside(self, at: int) -> None:
        if not self._take_best(at, inside=True):
            self._exchange(at, set())

    def place_after(self, at: int) -> None:
        if at not in self.places:
            self._take_best(at, inside=False)

    def proposal(self, at: int) -> Proposal:
        lost = self.queue[at]
        if at not in self.places:
            return Proposal(lost.appointment, None, self._why_none(at))
        session, start = self._leave(at)
        offer = offer_of(lost.need, self.left[session], start)
        self._take(at, (session, start))
        return Proposal(lost.appointment, offer, None)

    def _take_best(self, at: int, inside: bool) -> bool:
        """Takes the best place that nobody holds, if there is one."""
        lost = self.queue[at]
        wanted = [each for each in self.suitable[at] if not inside or is_inside(lost.need, each.on)]
        left = [self.left[each.session] for each in wanted]
        found = offers(lost.need, left, way=lost.way, today=self.now.today, minute=self.now.minute, most=1)
        for best in found:
            self._take(at, (best.session, best.start))
        return bool(found)

    def _exchange(self, at: int, tried: set[Place]) -> bool:
        """Takes a place inside the window that one other holds who can go elsewhere inside its own."""
        for place in self._places_inside(at):
            held_by = {self.holders[slot] for slot in self._slots(at, place) if slot in self.holders}
            if place in tried or len(held_by) != 1:
                continue
            tried.add(place)
            (other,) = held_by
            old = self._leave(other)
            self._take(at, place)
            if self._take_best(other, inside=True) or self._exchange(other, tried):
                return True
            self._leave(at)
            self._take(other, old)
        return False

    def _places_inside(self, at: int) -> Iterator[Place]:
        """Every place inside the window, held or not, in order of day."""
        lost = self.queue[at]
        for opening in sorted(self.suitable[at], key=lambda each: (each.on, each.session)):
            if is_inside(lost.need, opening.on):
                for start in starts_after(opening, lost.need.minutes, self.now):
                    yield opening.session, start

    def _suitable(self, lost: Lost) -> list[Opening]:
        return [each for each in self.openings.values() if takes_all(each, lost.need, lost.way)]

    def _slots(self, at: int, place: Place) -> list[Place]:
        session, start = place
        return [(session, slot) for slot in slots_for(start, self.queue[at].need.minutes)]

    def _take(self, at: int, place: Place) -> None:
        session, start = self.places[at] = place
        self.holders.update(dict.fromkeys(self._slots(at, place), at))
        self.left[session] = without(self.left[session], start, self.queue[at].need.minutes)

    def _leave(self, at: int) -> Place:
        place = self.places.pop(at)
        for slot in self._slots(at, place):
            del self.holders[slot]
        opening = self.openings[place[0]]
        left = tuple(slot for slot in opening.free if (opening.session, slot) not in self.holders)
        self.left[opening.session] = opening._replace(free=left)
        return place

    def _why_none(self, at: int) -> Reason:
        return Reason("all-full" if self.suitable[at] else "no-session-takes")
