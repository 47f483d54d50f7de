"""People and sessions: the week by site, what differs from it, who is away, and what a closure hits."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any, Final, NamedTuple

from django.db.models import Max, Q, QuerySet

from caseload.models import Absence, Appointment, Closure, FollowUp, Region, Session, Site, Staff, WeeklySession
from caseload.reads.calendars import every_calendar
from caseload.reads.prepared import Prepared
from caseload.reads.weeks import in_force_from
from caseload.timetable.terms import Outcome
from caseload.wording.dates import say_date

COMING: Final = timedelta(weeks=4)
NOTICE: Final = timedelta(days=365)
"""So long before a holiday list ends it is said wherever it matters."""

Sessions = QuerySet[Session]
FollowUps = Iterable[FollowUp]


class Hit(NamedTuple):
    """What closing some days touches: who is booked there, and unbooked follow-ups whose proposed day lies there."""

    appointments: tuple[Appointment, ...]
    follow_ups: tuple[FollowUp, ...]

    def __bool__(self) -> bool:
        return bool(self.appointments or self.follow_ups)


class Moved(NamedTuple):
    """A follow-up with the day proposed before and now."""

    row: FollowUp
    was: date | None
    now: date | None


def people() -> list[Staff]:
    return list(Staff.objects.filter(is_active=True))


def sites_with_week(today: date) -> list[tuple[Site, list[WeeklySession]]]:
    """Each site with its region, and the weekly sessions that are held today or later. In two queries."""
    held: dict[int, list[WeeklySession]] = defaultdict(list)
    for row in WeeklySession.objects.filter(in_force_from(today)).select_related("therapist"):
        held[row.site_id].append(row)
    return [(site, held[site.pk]) for site in Site.objects.select_related("region")]


def odd_sessions(today: date) -> list[Session]:
    """In the next weeks: sessions added for one day, changed, or called off."""
    rows = Session.objects.filter(Q(changed=True) | Q(live=False), on__gte=today, on__lte=today + COMING)
    return list(rows.select_related("site", "therapist", "weekly__therapist"))


def changed(today: date) -> list[Session]:
    """Every session to come that is held in another way than its week says."""
    rows = Session.objects.filter(changed=True, live=True, on__gte=today, weekly__isnull=False)
    return list(rows.select_related("site", "therapist"))


def differing(weekly: WeeklySession, today: date) -> list[Session]:
    """The sessions of a week, from today on, that are held in another way than it says or not at all."""
    rows = weekly.sessions.filter(Q(changed=True) | Q(live=False), on__gte=today)
    return list(rows.select_related("site", "therapist"))


def absences(today: date) -> list[Absence]:
    return list(Absence.objects.filter(ends_on__gte=today).select_related("therapist", "cover"))


def closures(today: date) -> list[Closure]:
    return list(Closure.objects.filter(ends_on__gte=today).select_related("site"))


def on_closed_days(today: date) -> list[Session]:
    """Live sessions to come on days that are closed: a holiday list changed under them. A person decides."""
    calendars = every_calendar()
    rows = Session.objects.filter(live=True, on__gte=today).values_list("pk", "site", "on")
    shut = [pk for pk, site, on in rows if not calendars[site].is_open(on)]
    return list(Session.objects.filter(pk__in=shut).select_related("site", "therapist"))


def hit_by(starts_on: date, ends_on: date, sites: Iterable[Site], today: date) -> Hit:
    """What lies on some days at some sites, from today on. In two queries."""
    sites, first = list(sites), max(starts_on, today)
    booked = Appointment.objects.filter(live=True, outcome="", site__in=sites, on__gte=first, on__lte=ends_on)
    proposed = FollowUp.objects.due().filter(
        episode__site__in=sites, episode__ended_on__isnull=True, booked_on__isnull=True, minutes__gt=0,
        proposed_on__gte=first, proposed_on__lte=ends_on,
    )  # fmt: skip
    rows = proposed.select_related("episode", "patient").order_by("proposed_on", "pk")
    return Hit(tuple(booked.select_related("patient").order_by("on", "start_minute")), tuple(rows))


def proposed_anew(rows: Iterable[FollowUp]) -> list[Moved]:
    """Follow-ups as they were read before, with the day that is proposed by now."""
    rows = list(rows)
    now = dict(FollowUp.objects.filter(pk__in=[row.pk for row in rows]).values_list("pk", "proposed_on"))
    return [Moved(row, row.proposed_on, now.get(row.pk)) for row in rows]


def fallen_away(closure: Closure) -> list[Appointment]:
    """Appointments that ended with their session in the closed days and have no other place yet."""
    rows = Appointment.objects.filter(
        session__live=False, outcome=Outcome.CANCELLED_BY_CLINIC, on__gte=closure.starts_on, on__lte=closure.ends_on
    )
    rows = rows.filter(site=closure.site_id) if closure.site_id else rows
    return list(rows.select_related("patient").order_by("on", "start_minute"))


def holiday_notice(today: date) -> str:
    """A sentence when the holiday list of a site's region ends within a year, else an empty one. One query."""
    said = [
        f"of {title} {'ended' if until < today else 'ends'} on {say_date(until)}"
        for title, until in _ENDING(today + NOTICE)
    ]
    later = "later days are not proposed or booked. Have it extended."
    return f"The list of public holidays {', '.join(said)}: {later}" if said else ""


def _ending(by: date) -> QuerySet[Region, Any]:
    """The title and last day of each list that is used and ends by then."""
    ending = Region.objects.filter(sites__isnull=False, covered_until__lte=by).distinct()
    return ending.order_by("title").values_list("title", "covered_until")


_ENDING = Prepared(_ending)


def last_dated() -> date | None:
    """The last day that has a session."""
    return Session.objects.filter(live=True).aggregate(last=Max("on"))["last"]
