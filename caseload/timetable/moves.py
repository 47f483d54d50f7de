"""What changed between two timetables of an episode: for a preview before saving, the drift report and the trail.

What is done never moves: a follow-up that is done in both is not mentioned, wherever its window went.
"""

from collections.abc import Iterator
from typing import NamedTuple

from caseload.timetable.plan import Activity, FollowUp, Timetable
from caseload.timetable.terms import ActivityKind, Change, FollowUpKind


class Move(NamedTuple):
    """One change of a follow-up (by its key) or an activity (by its kind), as it was and as it is."""

    change: Change
    item: str
    kind: FollowUpKind | ActivityKind
    was: FollowUp | Activity | None
    now: FollowUp | Activity | None


def moves(before: Timetable, after: Timetable) -> tuple[Move, ...]:
    """Every change from one timetable to another: follow-ups first, then activities, each in their order."""
    return (*_follow_up_moves(before, after), *_activity_moves(before, after))


def _follow_up_moves(before: Timetable, after: Timetable) -> Iterator[Move]:
    was = {follow_up.key: follow_up for follow_up in before.follow_ups}
    now = {follow_up.key: follow_up for follow_up in after.follow_ups}
    for key in was | now:
        change = _follow_up_change(was.get(key), now.get(key))
        if change:
            yield Move(change, key, (now.get(key) or was[key]).kind, was.get(key), now.get(key))


def _follow_up_change(was: FollowUp | None, now: FollowUp | None) -> Change | None:
    if was is None or not (was.is_due or was.done_on):
        return Change.ADDED if now and now.is_due else _ended(now)
    if now is None or now.dropped:
        return Change.DROPPED
    if was.done_on:
        return Change.ADDED if now.is_due else None
    return _ended(now) or (Change.MOVED if _days(was) != _days(now) else None)


def _ended(now: FollowUp | None) -> Change | None:
    return Change.DONE if now and now.done_on else None


def _days(follow_up: FollowUp) -> tuple[object, ...]:
    """What a reader would call moved: the window, the day proposed, and whether it still hangs on something."""
    window = (follow_up.earliest_on, follow_up.target_on, follow_up.latest_on)
    return (*window, follow_up.proposed_on, follow_up.first_after_on, follow_up.provisional, follow_up.in_person)


def _activity_moves(before: Timetable, after: Timetable) -> Iterator[Move]:
    was = {activity.kind: activity for activity in before.activities}
    now = {activity.kind: activity for activity in after.activities}
    for kind in was | now:
        for change in _activity_changes(was.get(kind), now.get(kind)):
            yield Move(change, kind, kind, was.get(kind), now.get(kind))


def _activity_changes(was: Activity | None, now: Activity | None) -> Iterator[Change]:
    if was is None or now is None:
        yield Change.DROPPED if was else Change.ADDED
        return
    if bool(was.locks) != bool(now.locks):
        yield Change.RELOCKED if now.locks else Change.UNLOCKED
    if (was.from_on, was.aim_on, was.until_on) != (now.from_on, now.aim_on, now.until_on):
        yield Change.MOVED
