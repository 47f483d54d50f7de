"""Facts, rules and a calendar in; the timetable of one episode out. A pure function of its arguments.

`as_of` keeps an anchor that is not recorded yet from lying in the past, and touches nothing else. With
`as_of=FIRST_DAY` the answer is the one that is stored: it does not drift as days pass.
"""

from collections.abc import Sequence
from datetime import date

from caseload.timetable.activities import plan_activities
from caseload.timetable.calendar import OpenDays
from caseload.timetable.case import Case
from caseload.timetable.facts import FIRST_DAY, EpisodeFacts
from caseload.timetable.follow_ups import plan_follow_ups
from caseload.timetable.headlines import find_concerns, safety_from
from caseload.timetable.plan import FollowUp, NextStep, Timetable
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import Headline, Mark, Owner, Suture


def derive(facts: EpisodeFacts, rules: RuleSet, calendar: OpenDays, *, as_of: date) -> Timetable:
    """The timetable of one episode. Raises Refusal where an instruction cannot be used."""
    case = Case.read(facts, rules, calendar, as_of)
    follow_ups, anchors = plan_follow_ups(case)
    due = [follow_up for follow_up in follow_ups if follow_up.is_due]
    alert_from = safety_from(case)
    return Timetable(
        ref=facts.ref,
        rules=str(rules),
        surgery_on=facts.surgery_on,
        follow_ups=follow_ups,
        activities=plan_activities(case, anchors),
        concerns=find_concerns(case, follow_ups, due, alert_from),
        safety_from=alert_from,
        next_step=_next_step(facts, due),
        marks=tuple(_marks(case, due)),
        is_open=facts.is_open,
    )


def _next_step(facts: EpisodeFacts, due: Sequence[FollowUp]) -> NextStep | None:
    """What happens next: the follow-up expected first, whose it is, or the fact that stands in the way of all."""
    if facts.surgery_on is None:
        missing = NextStep(Headline.MISSING_FACT, facts.recorded_on or FIRST_DAY, Owner.ADMIN, None)
        return missing if facts.is_open else None
    if not due:
        return None
    first = min(due, key=_expected_on)
    owner = Owner.THERAPIST if first.booked_on or not first.minutes else Owner.ADMIN
    return NextStep(first.kind, _expected_on(first), owner, first.key)


def _expected_on(follow_up: FollowUp) -> date:
    return follow_up.booked_on or follow_up.proposed_on or follow_up.first_after_on or follow_up.earliest_on


def _marks(case: Case, due: Sequence[FollowUp]) -> list[Mark]:
    marks = _calendar_marks(case.calendar, due)
    if case.facts.suture is Suture.UNKNOWN:
        marks.append(Mark.SUTURE_UNKNOWN)
    if not all(order.confirmed for order in case.orders.values()):
        marks.append(Mark.INSTRUCTION_UNCONFIRMED)
    return marks


def _calendar_marks(calendar: OpenDays, due: Sequence[FollowUp]) -> list[Mark]:
    """What the calendar cannot give: holidays that are not known yet, an open day in the window of a visit."""
    first, last = calendar.covered_from, calendar.covered_until
    marks = [Mark.BEYOND_HOLIDAY_DATA] if any(each.earliest_on < first or each.latest_on > last for each in due) else []
    empty = [each for each in due if each.proposed_on is None and each.minutes]
    if any(calendar.covers(each.earliest_on, each.latest_on) for each in empty):
        marks.append(Mark.NO_OPEN_DAY)
    return marks
