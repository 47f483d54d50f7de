"""Activities of the whole hand: the most restrictive open episode on that hand decides (trade, section 4.8).

Scar massage and passive stretch follow their own digit. Each operated digit has its own wound, so a gate that is shut
on one of them locks the hand.
"""

from collections.abc import Iterable, Sequence

from caseload.timetable.activities import Locks
from caseload.timetable.plan import Activity, Reason, Timetable
from caseload.timetable.terms import WHOLE_HAND, ActivityKind, Lock


def restrict(own: Timetable, others: Sequence[Timetable]) -> tuple[Activity, ...]:
    """The activities of `own` as the other episodes of the same hand leave them.

    Closed episodes among `others` restrict nothing. Takes the latest first day and all locks together.
    """
    restricting = [other for other in others if other.is_open]
    return tuple(_restricted(activity, restricting) for activity in own.activities)


def restrict_locks(own: Locks, others: Iterable[Locks]) -> Locks:
    """The same for locks alone: the whole hand gains what the other open episodes of the hand still wait for."""
    found = dict(own)
    for other in others:
        for kind in WHOLE_HAND.intersection(other):
            found[kind] = _together(found.get(kind, ()), other[kind])
    return found


def _together(own: tuple[Lock, ...], other: tuple[Lock, ...]) -> tuple[Lock, ...]:
    return tuple(lock for lock in Lock if lock in own or lock in other)


def _restricted(activity: Activity, others: Sequence[Timetable]) -> Activity:
    if activity.kind not in WHOLE_HAND:
        return activity
    for other in others:
        found = _same(other, activity.kind)
        if found is not None:
            activity = _stricter(activity, found, other.ref)
    return activity


def _same(timetable: Timetable, kind: ActivityKind) -> Activity | None:
    return next((activity for activity in timetable.activities if activity.kind is kind), None)


def _stricter(activity: Activity, other: Activity, ref: str) -> Activity:
    """One activity under the terms of both; unchanged where the other asks for nothing more."""
    locks = _together(activity.locks, other.locks)
    from_on = max(activity.from_on, other.from_on)
    if (from_on, locks) == (activity.from_on, activity.locks):
        return activity
    later = from_on > activity.from_on
    added = tuple(lock for lock in locks if lock not in activity.locks)
    return activity._replace(
        from_on=from_on,
        aim_on=activity.aim_on and max(activity.aim_on, from_on),
        until_on=activity.until_on and max(activity.until_on, from_on),
        locks=locks,
        provisional=other.provisional if later else activity.provisional,
        reasons=(*activity.reasons, Reason("other-digit", (ref, from_on if later else None, added))),
    )
