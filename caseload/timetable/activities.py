"""What the patient may do from which day on, and what keeps it locked.

Decided here:
- The first day is the latest of all terms of the rule; it is provisional while one of their anchors is not recorded.
- A gate needs a finding *and* the day: days alone never open one (`gates.py`).
- An instruction replaces the days of an activity or locks it; it opens no gate.
- Under 16 on the day of surgery: no driving and no work.
"""

from datetime import date, timedelta
from typing import Final

from caseload.timetable.anchors import Anchors
from caseload.timetable.case import Case, Counted
from caseload.timetable.evidence import read_evidence
from caseload.timetable.facts import EpisodeFacts, Instruction
from caseload.timetable.gates import BEFORE_FINDINGS, GATE_REASONS, Gates, Locked, locked_gates
from caseload.timetable.orders import Orders, order_reasons, read_orders
from caseload.timetable.plan import Activity, Reason
from caseload.timetable.rule import LONGEST, ActivityRule
from caseload.timetable.rules import AppliedActivity, RuleSet
from caseload.timetable.terms import ActivityKind, Anchor, Lock

ADULT_AGE: Final = 16
FOR_ADULTS: Final = frozenset(
    {
        ActivityKind.DRIVING,
        ActivityKind.HANDFREE_WORK,
        ActivityKind.LIGHT_MANUAL_WORK,
        ActivityKind.HEAVY_WORK,
    }
)
SPAN: Final = tuple(timedelta(days=days) for days in range(LONGEST + 1))
"""Lengths in days, made once: deriving adds some twenty of them for each episode."""

Locks = dict[ActivityKind, tuple[Lock, ...]]
_PLACES: Final[dict[str, int]] = {kind: place for place, kind in enumerate(ActivityKind)}


def plan_activities(case: Case, anchors: Anchors) -> tuple[Activity, ...]:
    """The activities of an episode in the order of its rules; none without a surgery date."""
    surgery = case.surgery
    if surgery is None:
        return ()
    locked = locked_gates(case.evidence) if case.facts.findings else BEFORE_FINDINGS
    planned = _steady(case, surgery, locked)
    for place, applied in case.choice.hanging:
        planned.insert(place, _by_rule(applied, anchors, *locked[applied.rule.gates]))
    if case.orders:
        planned = _with_orders(planned, case.orders, surgery)
    if is_child(case.facts.born_on, surgery.on):
        planned = [activity for activity in planned if activity.kind not in FOR_ADULTS]
    return tuple(planned)


def locks_of(facts: EpisodeFacts, rules: RuleSet) -> Locks:
    """What keeps each activity locked whatever the day: the locks of `plan_activities`, for a list of many hands.

    Needs the findings and instructions of the facts and no calendar. Raises Refusal as deriving does.
    Gates do not wait for a surgery date that is missing.
    """
    choice = rules.choice_of(facts)
    locked = locked_gates(read_evidence(facts))
    applied = (*choice.steady, *(each for _, each in choice.hanging))
    found: Locks = {each.rule.kind: locked[each.rule.gates][0] for each in applied}
    for kind, order in read_orders(facts.instructions).items():
        if order.locked:
            found[ActivityKind(kind)] = (*found.get(ActivityKind(kind), ()), Lock.INSTRUCTION)
    child = facts.surgery_on is not None and is_child(facts.born_on, facts.surgery_on)
    return {kind: locks for kind, locks in found.items() if locks and not (child and kind in FOR_ADULTS)}


def _steady(case: Case, surgery: Counted, locked: dict[Gates, Locked]) -> list[Activity]:
    """Activities that count from surgery only. Before a finding opens a gate, everybody operated on that day has the
    same: they are remembered."""
    steady, anchors = case.choice.steady, {Anchor.SURGERY: surgery}
    known = case.calendar.recall(
        (steady, surgery.on),
        lambda: [_by_rule(applied, anchors, *BEFORE_FINDINGS[applied.rule.gates]) for applied in steady],
    )
    if locked is BEFORE_FINDINGS:
        return [*known]
    return [
        _by_rule(applied, anchors, *locked[applied.rule.gates]) if applied.rule.gates else activity
        for applied, activity in zip(steady, known, strict=True)
    ]


def _with_orders(planned: list[Activity], orders: Orders, surgery: Counted) -> list[Activity]:
    """The activities with those replaced, or added, that the surgeon gave a first day or a lock."""
    by_kind = {activity.kind: activity for activity in planned}
    for kind in ActivityKind:
        if kind in orders:
            by_kind[kind] = _ordered(orders[kind], by_kind.get(kind) or _unruled(kind, surgery), surgery)
    return sorted(by_kind.values(), key=lambda activity: _PLACES[activity.kind])


def _ordered(order: Instruction, activity: Activity, surgery: Counted) -> Activity:
    """An order locks an activity or replaces its days; the gates of its rule stay."""
    if order.from_day is None:
        locks = (*activity.locks, Lock.INSTRUCTION)
        return activity._replace(locks=locks, reasons=(*order_reasons(order), *activity.reasons))
    return activity._replace(
        from_on=surgery.on + SPAN[order.from_day],
        aim_on=None,
        until_on=None,
        provisional=False,
        reasons=(*order_reasons(order), *surgery.reasons, *_about_gates(activity.reasons)),
    )


def _unruled(kind: ActivityKind, surgery: Counted) -> Activity:
    return Activity(kind, surgery.on, None, None, (), False, ())


def _about_gates(reasons: tuple[Reason, ...]) -> tuple[Reason, ...]:
    return tuple(reason for reason in reasons if reason.code in GATE_REASONS)


def is_child(born_on: date | None, on: date) -> bool:
    """Under 16 on a day; born on 29 February, of age on 1 March."""
    if born_on is None:
        return False
    return (on.year - ADULT_AGE, on.month, on.day) < (born_on.year, born_on.month, born_on.day)


def _by_rule(applied: AppliedActivity, anchors: Anchors, locks: tuple[Lock, ...], why: tuple[Reason, ...]) -> Activity:
    rule = applied.rule
    counted = anchors[rule.anchor]
    from_on, provisional = counted.on + SPAN[rule.from_day], counted.provisional
    reasons = (*applied.reasons, *counted.reasons, *why)
    if rule.not_before:
        from_on, provisional, later = _latest(rule, anchors)
        reasons = (*applied.reasons, *counted.reasons, *later, *why)
    aim_on = None if rule.aim_day is None else max(counted.on + SPAN[rule.aim_day], from_on)
    until_on = None if rule.until_day is None else max(counted.on + SPAN[rule.until_day], from_on)
    return Activity(rule.kind, from_on, aim_on, until_on, locks, provisional, reasons)


def _latest(rule: ActivityRule, anchors: Anchors) -> tuple[date, bool, tuple[Reason, ...]]:
    """The first day after all terms, whether any of them is provisional, and the anchors of the further terms."""
    from_on = anchors[rule.anchor].on + SPAN[rule.from_day]
    provisional = anchors[rule.anchor].provisional
    reasons: tuple[Reason, ...] = ()
    for term in rule.not_before:
        counted = anchors[term.anchor]
        provisional = provisional or counted.provisional
        reasons += counted.reasons
        if counted.on + SPAN[term.days] > from_on:
            from_on = counted.on + SPAN[term.days]
            reasons += (Reason("not-before-decides", (term.days, term.anchor, from_on)),)
    return from_on, provisional, reasons
