"""Sessions in words: their hours, what they take, and the windows that a week leaves empty."""

from collections.abc import Iterable
from datetime import date
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as text

from caseload.booking.slots import clock
from caseload.models import Session, WeeklySession
from caseload.timetable.rule import Days
from caseload.timetable.terms import FollowUpKind, Way
from caseload.wording.dates import say_date
from caseload.wording.labels import label

WEEKDAYS: Final = (
    text("Monday"), text("Tuesday"), text("Wednesday"), text("Thursday"), text("Friday"), text("Saturday"),
    text("Sunday"),
)  # fmt: skip


def say_hours(row: Session | WeeklySession) -> str:
    """`09:00 to 12:20`."""
    return f"{clock(row.start_minute)} to {clock(row.end_minute)}"


def say_week(row: WeeklySession) -> str:
    """When and where a weekly session is held, and by whom."""
    return f"{WEEKDAYS[row.weekday]}s, {say_hours(row)}, at {row.site}: {row.therapist}"


def say_takes(row: Session | WeeklySession) -> str:
    """What a session takes: “everything”, “Stitches out, Wound check; in person only”."""
    kinds = ", ".join(label(kind) for kind in FollowUpKind if kind in row.takes) or _("everything")
    if set(row.ways) == set(Way):
        return kinds
    return f"{kinds}; {', '.join(label(way) for way in Way if way in row.ways)}"


def say_odd(row: Session) -> str:
    """In which way a session differs from its week."""
    if not row.live:
        return _("called off: %(why)s") % {"why": row.lost_why}
    if row.weekly is None:
        return _("this day only")
    if row.weekly.therapist_id != row.therapist_id:
        return _("in place of %(name)s") % {"name": row.weekly.therapist}
    return _("changed")


def say_empty(
    kind: FollowUpKind, days: Days, windows: int, without: int, examples: Iterable[tuple[date, date, date]]
) -> str:
    """“Stitches out, day 12 to 16: 197 of 992 windows have no session day; for example surgery on …: … to ….”"""
    said = {"kind": label(kind), "first": days.earliest, "last": days.latest, "windows": windows, "without": without}
    counted = _("%(kind)s, day %(first)d to %(last)d: %(without)d of %(windows)d windows have no session day") % said
    for on, first, last in examples:
        shown = {"on": say_date(on), "first": say_date(first), "last": say_date(last)}
        return counted + _("; for example surgery on %(on)s: %(first)s to %(last)s.") % shown
    return f"{counted}."
