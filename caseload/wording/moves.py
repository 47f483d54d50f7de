"""What moved between two timetables, a line for each move."""

from datetime import date
from typing import Final

from django.utils.translation import gettext as _

from caseload.timetable.moves import Move
from caseload.timetable.plan import Activity, FollowUp
from caseload.timetable.terms import Change
from caseload.wording.dates import say_numbered
from caseload.wording.labels import label

DATED: Final = frozenset({Change.ADDED, Change.MOVED, Change.DONE, Change.UNLOCKED})
"""An open gate is half of it: what is unlocked may still have to wait for its day, so the day stands beside. And a day
is half of it: what moves to an earlier one may still be locked, and then says so."""


def say_move(move: Move, since: date | None = None) -> str:
    """One move, such as “Stitches out: Thu 2 Apr 2026 → Tue 7 Apr 2026”; with the day numbers since a surgery."""
    was, now = _day(move.was, since), _day(move.now, since)
    locked = isinstance(move.now, Activity) and move.now.locks
    said = {"item": label(move.kind), "was": was, "now": _("%(on)s, still locked") % {"on": now} if locked else now}
    said["change"] = _how(move)
    if move.change is Change.MOVED and was != now:
        return _("%(item)s: %(was)s → %(now)s") % said
    if move.change in DATED:
        return _("%(item)s: %(change)s, %(now)s") % said
    return _("%(item)s: %(change)s") % said


def _how(move: Move) -> str:
    """The change in a word. What keeps its day may still have become sure of it, or hang on something from now on."""
    was, now = move.was, move.now
    if move.change is not Change.MOVED or not isinstance(was, FollowUp) or not isinstance(now, FollowUp):
        return label(move.change)
    if was.provisional == now.provisional:
        return label(move.change)
    return _("provisional now") if now.provisional else _("no longer provisional")


def _day(item: FollowUp | Activity | None, since: date | None) -> str:
    """The day that stands for a follow-up (done, proposed, or its window) or an activity."""
    if item is None:
        return ""
    if isinstance(item, Activity):
        return _("from %(on)s") % {"on": say_numbered(item.from_on, since)}
    day = item.done_on or item.proposed_on
    if day:
        return say_numbered(day, since)
    first, last = say_numbered(item.earliest_on, since), say_numbered(item.latest_on, since)
    return _("between %(first)s and %(last)s") % {"first": first, "last": last}
