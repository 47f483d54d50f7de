"""A window on the calendar: its days, the day proposed for a visit, and what the calendar had to say about it.

Worked out once for each anchor day and rule, and remembered on the calendar: many episodes share both.
"""

from datetime import date, timedelta
from typing import Final, NamedTuple

from caseload.timetable.calendar import ONE_DAY, OpenDays
from caseload.timetable.plan import Reason
from caseload.timetable.rule import Days
from caseload.timetable.terms import FollowUpKind

FEW: Final = 2
"""So many usable days left, and nothing booked, is nearly late."""


class Window(NamedTuple):
    """`proposed_on` is the open day inside nearest the target; without one, `first_after_on` is the next after it."""

    earliest_on: date
    target_on: date
    latest_on: date
    proposed_on: date | None
    first_after_on: date | None
    reasons: tuple[Reason, ...]


def window(calendar: OpenDays, anchor_on: date, days: Days) -> Window:
    """The window of `days` from an anchor, on a site's calendar."""
    return calendar.recall((anchor_on, days), lambda: _window(calendar, anchor_on, days))


def pressing_on(calendar: OpenDays, kind: FollowUpKind, earliest: date, latest: date) -> date | None:
    """The first day on which two or fewer usable days are left in a window; None where it never held more.

    Where the holiday data do not reach nobody can count the days left: then it presses as soon as the window begins.
    """
    if not calendar.covers(earliest, latest):
        return earliest
    days = calendar.usable_days(kind, earliest, latest)
    return days[-FEW - 1] + ONE_DAY if len(days) > FEW else None


def _window(calendar: OpenDays, anchor_on: date, days: Days) -> Window:
    earliest, target, latest = (anchor_on + timedelta(days=count) for count in days)
    proposed = calendar.nearest_inside(earliest, latest, target)
    if proposed is None:
        first_after = calendar.first_after(latest)
        found = [Reason("no-open-day", (earliest, latest, first_after))]
    else:
        first_after = None
        found = [] if proposed == target else [_moved(calendar, anchor_on, earliest, target, proposed)]
    if not calendar.covers(earliest, latest):
        found.append(Reason("beyond-holiday-data", (calendar.covered_from, calendar.covered_until)))
    return Window(earliest, target, latest, proposed, first_after, tuple(found))


def _moved(calendar: OpenDays, anchor_on: date, earliest: date, target: date, proposed: date) -> Reason:
    """Why the proposed day is not the target, its day number, and whether an open day before it was as near."""
    mirrored = target - (proposed - target)
    tied = earliest <= mirrored < target and calendar.is_open(mirrored)
    return Reason("moved", (target, calendar.why_closed(target), proposed, (proposed - anchor_on).days, tied))
