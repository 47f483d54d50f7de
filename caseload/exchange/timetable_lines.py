"""A timetable as a JSON line, as of a day: what the `timetable` command prints for each episode."""

from collections.abc import Callable
from datetime import date
from typing import Any

from caseload.timetable.concerns import headline, owner_on
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.plan import Activity, FollowUp, Reason, Timetable
from caseload.timetable.rules import RuleSet
from caseload.timetable.standing import booking, days_late, is_planned, safety_alert, status
from caseload.timetable.terms import Mark

Say = Callable[[Reason], str]


def timetable_body(facts: EpisodeFacts, timetable: Timetable, rules: RuleSet, today: date, say: Say) -> dict[str, Any]:
    """The line of a timetable as an object; `say` makes sentences of reasons."""
    concern = headline(timetable.concerns, today)
    planned = (Mark.PLANNED,) if is_planned(timetable, today) else ()
    return {
        "ref": timetable.ref,
        "rules": {"name": rules.name, "version": rules.version},
        "follow_ups": [_follow_up(facts, follow_up, today, say) for follow_up in timetable.follow_ups],
        "activities": [_activity(activity, today, say) for activity in timetable.activities],
        "safety_alert": safety_alert(timetable, today),
        "headline": concern and concern.headline,
        "owner": concern and owner_on(concern, today),
        "next_step": _next_step(timetable, today),
        "marks": [*timetable.marks, *planned],
    }


def _follow_up(facts: EpisodeFacts, follow_up: FollowUp, today: date, say: Say) -> dict[str, Any]:
    return {
        "kind": follow_up.kind,
        "anchor_on": follow_up.anchor_on.isoformat(),
        "earliest_on": follow_up.earliest_on.isoformat(),
        "target_on": follow_up.target_on.isoformat(),
        "latest_on": follow_up.latest_on.isoformat(),
        "proposed_on": _iso(follow_up.proposed_on),
        "first_after_on": _iso(follow_up.first_after_on),
        "provisional": follow_up.provisional,
        "status": status(follow_up, today),
        "days_late": days_late(follow_up, today),
        "booking": booking(facts.appointments, follow_up, today),
        "minutes": follow_up.minutes or None,
        "why": [say(reason) for reason in follow_up.reasons],
    }


def _activity(activity: Activity, today: date, say: Say) -> dict[str, Any]:
    locked_by = activity.locked_by(today)
    return {
        "kind": activity.kind,
        "from_on": activity.from_on.isoformat(),
        "aim_on": _iso(activity.aim_on),
        "until_on": _iso(activity.until_on),
        "locked": bool(locked_by),
        "locked_by": locked_by,
        "provisional": activity.provisional,
        "why": [say(reason) for reason in activity.reasons],
    }


def _next_step(timetable: Timetable, today: date) -> dict[str, Any] | None:
    """What comes next, never in the past: what should have been done is to be done today."""
    step = timetable.next_step
    if step is None:
        return None
    return {"kind": step.kind, "on": max(step.on, today).isoformat(), "owner": step.owner}


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
