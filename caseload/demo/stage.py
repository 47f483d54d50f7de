"""What every story of the demo stands on: the two sites, their open days, the staff, the rules, and today."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.dating import HORIZON
from caseload.actions.people import add_site
from caseload.demo.agenda import Agenda
from caseload.demo.people import FERNHOLLOW, QUAY_STREET, SIGN_INS, employ
from caseload.demo.room import Room, hold_weeks
from caseload.models import RuleSet, Site, Staff
from caseload.reads.calendars import calendars_of
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import Owner

ORIGIN = "command demo"
"""Stands in the trail as where everything in it came from."""
OPENED = timedelta(days=400)
"""So long ago the demo clinic opened: before its first patient."""
PLAYED = timedelta(days=230)
"""Sessions are on record from so long ago: before the first visit of the stories."""
TWO_WEEK, TEN_TO_FOURTEEN = "two-week", "ten-to-fourteen"
DOORS_OPEN = time(8, 30)


@dataclass(frozen=True)
class Stage:
    """`until` is the last day that the stories tell of; nothing of them happened after the instant `now`."""

    now: datetime
    until: date
    sites: dict[str, Site]
    calendars: dict[int, OpenDays]
    staff: dict[str, Staff]
    rules: dict[str, RuleSet]
    room: Room
    due: Agenda

    @property
    def today(self) -> date:
        return timezone.localdate(self.now)

    def by(self, person: Staff, day: date, minute: int) -> By:
        """The actor, so many minutes after the doors opened on a day, but never later than now."""
        opened = timezone.make_aware(datetime.combine(day, DOORS_OPEN))
        return By(person, min(opened + timedelta(minutes=minute), self.now), day, origin=ORIGIN)

    def theatre_runs(self, day: date) -> bool:
        """Surgery is done on the working days of the larger site."""
        return self.calendars[self.sites[FERNHOLLOW].pk].is_open(day)

    def therapists(self, site: str) -> list[Staff]:
        return [self.staff[each.username] for each in SIGN_INS if Owner.THERAPIST in each.roles and each.site == site]

    def admin(self, site: str) -> Staff:
        return next(self.staff[each.username] for each in SIGN_INS if Owner.ADMIN in each.roles and each.site == site)

    @property
    def lead(self) -> Staff:
        return next(self.staff[each.username] for each in SIGN_INS if each.roles == (Owner.LEAD,))


def set_stage(now: datetime) -> Stage:
    """Open the two sites, load rules and holidays, employ the staff."""
    opening = By(None, now - OPENED, timezone.localdate(now) - OPENED, origin=ORIGIN)
    fernhollow = add_site(FERNHOLLOW, by=opening, region="GB-ENG", weekdays="01234", telephone="01632 960100")
    quay_street = add_site(QUAY_STREET, by=opening, region="GB-ENG", weekdays="0123", telephone="01632 960200")
    today, staff, sites = timezone.localdate(now), employ(), {FERNHOLLOW: fernhollow, QUAY_STREET: quay_street}
    hold_weeks(staff, sites, today - PLAYED, today)
    return Stage(
        now=now,
        until=today - timedelta(days=1),
        sites=sites,
        calendars=calendars_of(sites.values()),
        room=Room(sites.values(), today - PLAYED, today + HORIZON),
        due=Agenda(),
        staff=staff,
        rules={rules.name: rules for rules in RuleSet.objects.filter(retired_at__isnull=True)},
    )
