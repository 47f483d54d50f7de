"""Activities of the whole hand: the most restrictive open episode on that hand decides.

Scar massage and passive stretch follow their own digit. Each operated digit has its own wound, so a gate that is shut
on one of them locks the hand. Where a digit that was operated on again has two open episodes, they are one digit: each
restricts everything of the other. An episode whose surgery date is missing has no days, but its wound counts.
"""

from collections.abc import Iterable, Sequence

from caseload.timetable.activities import Locks
from caseload.timetable.facts import FIRST_DAY
from caseload.timetable.plan import Activity, Reason, Timetable
from caseload.timetable.terms import WHOLE_HAND, ActivityKind, Lock


def restrict(own: Timetable, others: Sequence[Timetable], same: Sequence[Timetable] = ()) -> tuple[Activity, ...]:
    """The activities of `own` as the `others` of its hand, and those of the `same` digit, leave them.

    Closed episodes restrict nothing. Takes the latest first day and all locks together.
    """
    of_digit = [other for other in same if other.is_open]
    of_hand = [*of_digit, *(other for other in others if other.is_open)]
    return tuple(
        _restricted(activity, of_hand if activity.kind in WHOLE_HAND else of_digit) for activity in own.activities
    )


def restrict_locks(own: Locks, others: Iterable[Locks], same: Iterable[Locks] = ()) -> Locks:
    """The same for locks alone: the hand and the digit gain what the other open episodes still wait for."""
    found = dict(own)
    held = [(kind, other) for other in others for kind in WHOLE_HAND.intersection(other)]
    held += [(kind, other) for other in same for kind in other]
    for kind, asking in held:
        found[kind] = _together(found.get(kind, ()), asking[kind])
    return found


def undated(timetable: Timetable, locks: Locks) -> Timetable:
    """The timetable of an episode without a surgery date, as far as it restricts its hand: locks and no days."""
    held = (Activity(kind, FIRST_DAY, None, None, gates, False, ()) for kind, gates in locks.items())
    return timetable._replace(activities=tuple(held))


def _together(own: tuple[Lock, ...], other: tuple[Lock, ...]) -> tuple[Lock, ...]:
    return tuple(lock for lock in Lock if lock in own or lock in other)


def _restricted(activity: Activity, others: Sequence[Timetable]) -> Activity:
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
    provisional = activity.provisional or other.provisional  # whichever day moves, the day of the hand may
    if (from_on, locks) == (activity.from_on, activity.locks):
        return activity._replace(provisional=provisional)
    later = from_on > activity.from_on
    added = tuple(lock for lock in locks if lock not in activity.locks)
    return activity._replace(
        from_on=from_on,
        aim_on=activity.aim_on and max(activity.aim_on, from_on),
        until_on=activity.until_on and max(activity.until_on, from_on),
        locks=locks,
        provisional=provisional,
        reasons=(*activity.reasons, Reason("other-digit", (ref, from_on if later else None, added))),
    )
