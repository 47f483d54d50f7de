"""The week of sessions, and the windows and follow-ups that it leaves without any session day."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final, NamedTuple

from django.db.models import Q

from caseload.booking.weeks import Pattern, Uncovered, dates_of, uncovered
from caseload.models import FollowUp, Session, Site, WeeklySession
from caseload.reads.calendars import calendar_of
from caseload.reads.rules import in_force, rules_of
from caseload.timetable.calendar import OpenDays
from caseload.timetable.rule import Days
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import Anchor, FollowUpKind, Way

AHEAD: Final = timedelta(weeks=26)
"""Surgery days looked at before a week is saved."""
LOOKED_AT: Final = (FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK)


class Empty(NamedTuple):
    """Windows of one kind and length that hold no session day; `examples` are (surgery day, first day, last day)."""

    kind: FollowUpKind
    days: Days
    windows: int
    without: int
    examples: tuple[tuple[date, date, date], ...]


def pattern_of(row: WeeklySession) -> Pattern:
    return Pattern(
        row.pk or 0, row.therapist_id, row.site_id, row.weekday, row.start_minute, row.end_minute, row.kinds,
        row.by_way, row.starts_on, row.ends_on,
    )  # fmt: skip


def empty_windows(site: Site, first: date, last: date, rules: RuleSet | None = None) -> list[Empty]:
    """Of the windows that surgery on each open day from `first` to `last` would give, those without a session day.

    Counts for each kind and length that the rules (None: those in force) give, where some are empty. A window that
    reaches beyond the known holidays is not counted. A constant number of queries.
    """
    calendar, rules = calendar_of(site), rules or rules_of(in_force())
    patterns = [pattern_of(row) for row in WeeklySession.objects.filter(site=site)]
    found = (_of_kind(kind, days, far, patterns, calendar, (first, last)) for kind, days, far in _windows(rules))
    return [empty for empty in found if empty.without]


def _windows(rules: RuleSet) -> Iterator[tuple[FollowUpKind, Days, bool]]:
    """Each kind and window counted from surgery once, with whether the visit may be from afar."""
    seen = set()
    for rule in rules.follow_ups:
        wanted = (rule.kind, rule.days, not rule.in_person)
        if rule.kind in LOOKED_AT and rule.anchor is Anchor.SURGERY and wanted not in seen:
            seen.add(wanted)
            yield wanted


def _of_kind(
    kind: FollowUpKind, days: Days, far: bool, patterns: list[Pattern], calendar: OpenDays, over: tuple[date, date]
) -> Empty:
    first, last = over
    reach = last + timedelta(days=days.latest)
    taking = [row for row in patterns if (not row.takes or kind in row.takes) and (far or Way.IN_PERSON in row.ways)]
    held = {on for row in taking for on in dates_of(row, first, reach, calendar)}
    asked = [
        (_after(on, days.earliest), _after(on, days.latest))
        for on in calendar.open_days(first, last)
        if calendar.covers(on, _after(on, days.latest))
    ]
    found: Uncovered = uncovered(held, asked)
    wide = days.latest - days.earliest
    examples = tuple((_after(on, -days.earliest), on, _after(on, wide)) for on in found.examples)
    return Empty(kind, days, found.windows, found.without, examples)


def _after(on: date, days: int) -> date:
    return on + timedelta(days=days)


def without_day(site: Site, today: date, last: date) -> list[FollowUp]:
    """Open follow-ups of a site, to end by `last` and not booked, whose window has no session day left that takes
    them. In two queries.
    """
    rows = FollowUp.objects.due().filter(
        episode__site=site, episode__ended_on__isnull=True, minutes__gt=0, booked_on__isnull=True,
        latest_on__gte=today, latest_on__lte=last,
    )  # fmt: skip
    held = list(
        Session.objects.filter(site=site, live=True, on__gte=today, on__lte=last).values_list("on", "takes", "ways")
    )
    return [row for row in rows.order_by("latest_on", "pk") if not any(_usable(row, today, *day) for day in held)]


def _usable(row: FollowUp, today: date, on: date, takes: list[str], ways: list[str]) -> bool:
    inside = max(today, row.earliest_on) <= on <= row.latest_on
    return inside and (not takes or row.kind in takes) and (not row.in_person or Way.IN_PERSON in ways)


def in_force_from(today: date) -> Q:
    """Weekly sessions that are held today or later."""
    return Q(ends_on__isnull=True) | Q(ends_on__gte=today)
