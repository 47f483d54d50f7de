"""The diary of the demo: the sessions of a week, dated over the whole time, and what is still free in them.

What is free is kept in memory: the stories ask for places some two thousand times.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Final, NamedTuple

from caseload.actions.dating import HORIZON, make
from caseload.booking.needs import Need
from caseload.booking.offers import Offer, every_place, offers
from caseload.booking.openings import Opening, without
from caseload.booking.slots import SLOT, slots_for
from caseload.demo.people import FERNHOLLOW, QUAY_STREET
from caseload.models import Appointment, Session, Site, Staff, WeeklySession
from caseload.reads.openings import openings_between
from caseload.timetable.terms import FollowUpKind, Way

REVIEWS: Final = (FollowUpKind.THERAPY_REVIEW, FollowUpKind.SET_REVIEW, FollowUpKind.OUTCOME_REVIEW)
BEYOND: Final = timedelta(days=21)


class Week(NamedTuple):
    """Sessions of a therapist: on these weekdays from a minute of the day, so many slots."""

    username: str
    site: str
    weekdays: str
    start: int
    slots: int
    takes: tuple[FollowUpKind, ...] = ()
    ways: tuple[Way, ...] = (Way.IN_PERSON, Way.TELEPHONE)


WEEKS: Final = (
    Week("hanneke", FERNHOLLOW, "01234", 9 * 60, 4),
    Week("priyanka", FERNHOLLOW, "01234", 10 * 60 + 30, 4),
    Week("callum", FERNHOLLOW, "0123", 14 * 60, 3, ways=tuple(Way)),
    Week("callum", FERNHOLLOW, "4", 13 * 60 + 30, 4, takes=REVIEWS, ways=tuple(Way)),
    Week("joan", QUAY_STREET, "0123", 9 * 60 + 10, 4),
    Week("temi", QUAY_STREET, "013", 13 * 60 + 30, 3),
    Week("temi", QUAY_STREET, "2", 14 * 60, 3, takes=REVIEWS),
)


def hold_weeks(staff: dict[str, Staff], sites: dict[str, Site], first: date, today: date) -> None:
    """Make the weekly sessions and every dated one from the day the clinic opened to the horizon."""
    weeks = [
        WeeklySession(
            therapist=staff[each.username], site=sites[each.site], weekday=int(weekday), start_minute=each.start,
            end_minute=each.start + each.slots * SLOT, takes=sorted(each.takes), ways=sorted(each.ways),
            starts_on=first,
        )
        for each in WEEKS
        for weekday in each.weekdays
    ]  # fmt: skip
    WeeklySession.objects.bulk_create(weeks)
    made = make(WeeklySession.objects.select_related("site", "therapist"), first=first, last=today + HORIZON)
    assert not made.left_out


class Room:
    """What is free, by site and day."""

    def __init__(self, sites: Iterable[Site], first: date, last: date) -> None:
        self._days: dict[tuple[int, date], dict[int, Opening]] = defaultdict(dict)
        for opening in openings_between([site.pk for site in sites], first, last):
            self._days[opening.site, opening.on][opening.session] = opening
        self.sessions = {row.pk: row for row in Session.objects.select_related("site__region", "therapist")}

    def best(self, need: Need, way: Way, today: date, minute: int, most: int) -> tuple[Offer, ...]:
        """The best places from now on; none where the diary ends."""
        last = max(need.latest, today) + BEYOND
        return offers(need, self._between(need.site, max(today, need.earliest), last), way=way, today=today,
                      minute=minute, most=most)  # fmt: skip

    def on(self, need: Need, way: Way, on: date, today: date, minute: int) -> tuple[Offer, ...]:
        """Every place of a day, the patient's own therapist first, or of the first later day that has one."""
        for days in range(BEYOND.days):
            openings = self._between(need.site, on + timedelta(days=days), on + timedelta(days=days))
            if found := every_place(need, openings, way=way, today=today, minute=minute):
                return tuple(sorted(found, key=lambda offer: offer.therapist != need.therapist))
        return ()

    def take(self, offer: Offer) -> Session:
        day = self._days[offer.site, offer.on]
        day[offer.session] = without(day[offer.session], offer.start, offer.minutes)
        return self.sessions[offer.session]

    def give_back(self, appointment: Appointment) -> None:
        if appointment.session_id is None or appointment.start_minute is None:
            return
        day = self._days[appointment.site_id, appointment.on]
        opening = day[appointment.session_id]
        free = {*opening.free, *slots_for(appointment.start_minute, appointment.minutes)}
        day[appointment.session_id] = opening._replace(free=tuple(sorted(free)))

    def _between(self, site: int, first: date, last: date) -> Sequence[Opening]:
        days = (first + timedelta(days=count) for count in range((last - first).days + 1))
        return [opening for day in days for opening in self._days.get((site, day), {}).values()]
