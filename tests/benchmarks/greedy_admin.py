"""Two ways to keep one diary, simulated on the same days with the same knowledge: a greedy admin, and the fill.

The admin goes down the booking list in its order, fewest usable days first, and gives each the best offer there is:
inside the window, or the first place after it. The fill places everybody on the list together, and whoever is left gets
the first place after the window in the same manner. What is booked stays: nobody cancels, stays away or is moved. Both
book from tomorrow on, a patient once a day, and know of a follow-up only once it is known and opens within `AHEAD`.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import partial
from typing import Final, NamedTuple

from caseload.booking.fill import Horizon, fill
from caseload.booking.filling.terms import Wish
from caseload.booking.needs import URGENT, Asked, Need, one_visit
from caseload.booking.offers import Now, Offer, offers
from caseload.booking.openings import Opening, without
from caseload.booking.slots import LONGEST
from caseload.timetable.terms import FollowUpKind, Way

AHEAD: Final = timedelta(days=28)
BEYOND: Final = timedelta(days=21)
"""As far after its window as the planner looks for a place."""
ONE_DAY: Final = timedelta(days=1)


class Due(NamedTuple):
    """A follow-up of a patient at a site, known from a day on; `therapist` is the patient's own."""

    patient: int
    asked: Asked
    site: int
    therapist: int | None
    interpreter: bool
    known_on: date

    def is_listed(self, today: date) -> bool:
        return self.known_on <= today and self.asked.earliest <= today + AHEAD


class Place(NamedTuple):
    """What a follow-up got, and how many it shares the visit with."""

    offer: Offer
    others: int


class Diary:
    """The sessions with what is still free in them, and who has which place in them, by name of the follow-up."""

    def __init__(self, openings: Iterable[Opening]) -> None:
        self.openings = {each.session: each for each in openings}
        self.places: dict[str, Place] = {}
        self.taken: dict[int, set[date]] = defaultdict(set)
        self.session_days = _session_days(self.openings.values())

    def free_for(self, patient: int, need: Need, now: Now) -> list[Opening]:
        """The sessions of its site that may be asked for a place, on days without another visit of the patient."""
        last, taken = max(need.latest, now.today) + BEYOND, self.taken[patient]
        return [
            each for each in self.openings.values()
            if each.site == need.site and now.today <= each.on <= last and each.on not in taken
        ]  # fmt: skip

    def usable(self, due: Due, today: date) -> int:
        """Days left of the window on which a session takes it, full or not."""
        held = self.session_days.get((due.site, due.asked.kind), [])
        first = max(today, due.asked.earliest)
        return max(0, bisect_right(held, due.asked.latest) - bisect_left(held, first))

    def take(self, patient: int, need: Need, offer: Offer) -> None:
        self.openings[offer.session] = without(self.openings[offer.session], offer.start, offer.minutes)
        self.taken[patient].add(offer.on)
        self.places.update(dict.fromkeys(need.names, Place(offer, len(need.names) - 1)))


Book = Callable[[Sequence[Due], Diary, Now], None]
"""Places whoever it can of a list that is in the order of urgency."""


def simulate(dues: Iterable[Due], openings: Iterable[Opening], days: Iterable[date], book: Book) -> Diary:
    """The diary after these days, on each of which the list was worked through."""
    diary, every = Diary(openings), sorted(dues, key=lambda due: due.asked.name)
    for today in days:
        listed = [due for due in every if due.is_listed(today) and due.asked.name not in diary.places]
        tomorrow = today + ONE_DAY
        book(sorted(listed, key=partial(_urgency, diary, tomorrow)), diary, Now(tomorrow, -1))
    return diary


def one_by_one(listed: Sequence[Due], diary: Diary, now: Now) -> None:
    """As the admin does: the row and what the same visit can serve, at the best place that is left."""
    for row in listed:
        if row.asked.name not in diary.places:
            need = visit_for(ticked(row, [each for each in listed if each.asked.name not in diary.places]))
            free = diary.free_for(row.patient, need, now)
            for offer in offers(need, free, way=Way.IN_PERSON, today=now.today, minute=now.minute, most=1):
                diary.take(row.patient, need, offer)


def together(listed: Sequence[Due], diary: Diary, now: Now) -> None:
    """As the fill does, accepted whole; whoever has no place inside the window is then booked as the admin would."""
    open_days: dict[int, list[date]] = defaultdict(list)
    for site, on in sorted({(each.site, each.on) for each in diary.openings.values() if each.on >= now.today}):
        open_days[site].append(on)
    patients = {due.asked.name: due.patient for due in listed}
    plan = fill(wishes_of(listed, diary.taken), diary.openings.values(), Horizon(now, open_days))
    for each in plan.placed:
        diary.take(patients[each.wish.need.names[0]], each.wish.need, each.offer)
    one_by_one(listed, diary, now)


def ticked(row: Due, listed: Iterable[Due]) -> list[Due]:
    """The row with those of the patient that the page proposes beside: a day in common, an hour in all."""
    chosen = [row]
    for each in sorted(listed, key=lambda due: (due.asked.latest, due.asked.name)):
        if each != row and (each.patient, each.site) == (row.patient, row.site) and _go_together([*chosen, each]):
            chosen.append(each)
    return chosen


def wishes_of(listed: Sequence[Due], taken: Mapping[int, set[date]]) -> Iterator[Wish]:
    """One visit for what can go together; and, should that find no place, a visit for each."""
    left = list(listed)
    while left:
        chosen = ticked(left[0], left)
        left = [each for each in left if each not in chosen]
        not_on = frozenset(taken[chosen[0].patient])
        for several in [chosen, *([each] for each in chosen if len(chosen) > 1)]:
            yield Wish(chosen[0].patient, visit_for(several), Way.IN_PERSON, not_on)


def visit_for(dues: Sequence[Due]) -> Need:
    first = dues[0]
    asked = [due.asked for due in dues]
    return one_visit(asked, site=first.site, therapist=first.therapist, interpreter=first.interpreter)


def _go_together(dues: Sequence[Due]) -> bool:
    asked = [due.asked for due in dues]
    common = max(each.earliest for each in asked) <= min(each.latest for each in asked)
    return common and sum(each.minutes for each in asked) <= LONGEST


def _urgency(diary: Diary, today: date, due: Due) -> tuple[int, bool, date, str]:
    return diary.usable(due, today), due.asked.kind not in URGENT, due.asked.latest, due.asked.name


def _session_days(openings: Iterable[Opening]) -> dict[tuple[int, FollowUpKind], list[date]]:
    days: dict[tuple[int, FollowUpKind], set[date]] = defaultdict(set)
    for each in openings:
        for kind in each.takes or FollowUpKind:
            days[each.site, kind].add(each.on)
    return {key: sorted(held) for key, held in days.items()}
