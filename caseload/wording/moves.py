"""What moved between two timetables, a line for each move."""

from typing import Final

from django.utils.translation import gettext as _

from caseload.timetable.moves import Move
from caseload.timetable.plan import Activity, FollowUp
from caseload.timetable.terms import Change
from caseload.wording.dates import say_date
from caseload.wording.labels import label

DATED: Final = frozenset({Change.ADDED, Change.MOVED, Change.DONE, Change.UNLOCKED})
"""An open gate is half of it: what is unlocked may still have to wait for its day, so the day stands beside."""


def say_move(move: Move) -> str:
    """One move, such as “Stitches out: Thu 2 Apr 2026 → Tue 7 Apr 2026”."""
    said = {"item": label(move.kind), "was": _day(move.was), "now": _day(move.now), "change": label(move.change)}
    if move.change is Change.MOVED and said["was"] != said["now"]:
        return _("%(item)s: %(was)s → %(now)s") % said
    if move.change in DATED:
        return _("%(item)s: %(change)s, %(now)s") % said
    return _("%(item)s: %(change)s") % said


def _day(item: FollowUp | Activity | None) -> str:
    """The day that stands for a follow-up (done, proposed, or its window) or an activity."""
    if item is None:
        return ""
    if isinstance(item, Activity):
        return _("from %(on)s") % {"on": say_date(item.from_on)}
    day = item.done_on or item.proposed_on
    if day:
        return say_date(day)
    return _("between %(first)s and %(last)s") % {"first": say_date(item.earliest_on), "last": say_date(item.latest_on)}
