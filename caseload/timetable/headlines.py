"""What is or becomes wrong with an open episode, and whose it is.

Each headline is a concern with a first day: it applies from then on until an act ends it; no passing of days ends one.
So one list answers for every day, and can be stored as stretches of time.

Decided here:
- Red flag: from its day, the therapist's; from the next day the lead's. Whoever gave it: a warning is never dropped.
- Safety alert: from day 22, or the day after the instructed latest if that is later, until stitches are on record as
  out and the wound as closed. A wound that opens again brings it back from that day. The lead's.
- Missing fact: surgery date, side, digit from the day the episode was recorded; the suture from day 7. One for all.
- Not rebooked: the admin's; the lead's from the second time, or once the latest day has passed.
- Visit unbooked: from the day on which two or fewer usable days are left in the window.
- Untold: from the day after two open days have passed, but not later than the second open day before the visit; and
  from that day while the interpreter whom it needs does not know.
Before the surgery nothing applies: a planned episode is not on the caseload.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import chain
from typing import Final

from caseload.timetable.calendar import ONE_DAY, OpenDays
from caseload.timetable.case import Case
from caseload.timetable.concerns import pressing
from caseload.timetable.facts import FIRST_DAY, Appointment
from caseload.timetable.orders import window_of
from caseload.timetable.plan import Concern, FollowUp
from caseload.timetable.standing import serves
from caseload.timetable.terms import FollowUpKind, Headline, Outcome, Owner, Suture
from caseload.timetable.windows import pressing_on

SECOND_TIME: Final = 2
DAYS_TO_TELL: Final = 2
CANCELLED: Final = (Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC)


def find_concerns(
    case: Case, follow_ups: Sequence[FollowUp], due: Sequence[FollowUp], alert_from: date | None
) -> tuple[Concern, ...]:
    """Every concern of an open episode, most pressing first; none for a closed one."""
    if not case.facts.is_open:
        return ()
    found = [*_missing_facts(case), *_of_follow_ups(case, due)]
    if alert_from:
        found.append(Concern(Headline.SAFETY_ALERT, alert_from, Owner.LEAD, alert_from))
    if not due and case.facts.surgery_on:
        found.append(_no_next_step(follow_ups))
    if case.facts.appointments:
        found += chain(_without_outcome(case, follow_ups), _untold(case, follow_ups))
    if case.evidence.red_flags:
        found += [red_flag_of(flag.on) for flag in case.evidence.red_flags]
    begins_on = case.facts.surgery_on or FIRST_DAY
    found = [each if each.from_on >= begins_on else _not_before(each, begins_on) for each in found]
    return tuple(sorted(found, key=pressing))


def safety_from(case: Case) -> date | None:
    """The day from which the safety alert stands, None once stitches are out and the wound is closed on record.

    The closed wound says both: where there are stitches, a wound that they still hold does not count as closed.
    """
    surgery_on = case.facts.surgery_on
    if surgery_on is None or case.evidence.closed or not case.facts.is_open:
        return None
    day = case.rules.safety_alert_day
    order = case.orders.get(FollowUpKind.STITCHES_OUT)
    if order:
        day = max(day, window_of(order).latest + 1)
    from_on = surgery_on + timedelta(days=day)
    return max(from_on, case.evidence.reopened.on) if case.evidence.reopened else from_on


def _not_before(concern: Concern, day: date) -> Concern:
    """A concern that begins only with the episode itself."""
    then_on = max(concern.then_on, day + ONE_DAY) if concern.then_on else None
    return concern._replace(from_on=day, due_on=max(concern.due_on, day), then_on=then_on)


def red_flag_of(on: date) -> Concern:
    """The concern of a red flag found on a day: the therapist's that day, the lead's from the next."""
    return Concern(Headline.RED_FLAG, on, Owner.THERAPIST, on, then_on=on + ONE_DAY, then_owner=Owner.LEAD)


def _missing_facts(case: Case) -> Iterator[Concern]:
    facts = case.facts
    from_on = None
    if None in (facts.surgery_on, facts.side, facts.digit):
        from_on = facts.recorded_on or FIRST_DAY
    elif facts.suture is Suture.UNKNOWN and facts.surgery_on:
        from_on = facts.surgery_on + timedelta(days=case.rules.missing_fact_day)
    if from_on:
        yield Concern(Headline.MISSING_FACT, from_on, Owner.ADMIN, from_on)


def _no_next_step(follow_ups: Sequence[FollowUp]) -> Concern:
    """From the last thing done: since then, nothing has been planned. Something was: every rule set has a closing."""
    from_on = max(follow_up.done_on for follow_up in follow_ups if follow_up.done_on)
    return Concern(Headline.NO_NEXT_STEP, from_on, Owner.LEAD, from_on)


def _without_outcome(case: Case, follow_ups: Sequence[FollowUp]) -> Iterator[Concern]:
    for held in case.facts.appointments:
        if held.outcome is None:
            key = _served_by(held, follow_ups)
            yield Concern(Headline.NO_OUTCOME, held.on + ONE_DAY, Owner.THERAPIST, held.on, key)


def _served_by(held: Appointment, follow_ups: Iterable[FollowUp]) -> str | None:
    return next((follow_up.key for follow_up in follow_ups if serves(held, follow_up)), None)


def _untold(case: Case, follow_ups: Sequence[FollowUp]) -> Iterator[Concern]:
    for held in case.facts.appointments:
        days = _to_tell_by(held, case.calendar)
        if days:
            due_on, from_on = days
            yield Concern(Headline.UNTOLD, from_on, Owner.ADMIN, due_on, _served_by(held, follow_ups))


def _to_tell_by(held: Appointment, calendar: OpenDays) -> tuple[date, date] | None:
    """The day by which somebody has to be told of an appointment, and the day from which it is the admin's."""
    found = []
    if held.untold_since:
        due_on = _open_days_on(calendar, held.untold_since)
        found.append((due_on, due_on + ONE_DAY))
    if held.outcome is None and (held.untold_since or held.interpreter_untold):
        due_on = max(_open_days_back(calendar, held.on), held.untold_since or FIRST_DAY)
        found.append((due_on, due_on))
    return min(found, key=lambda days: days[1], default=None)


def _open_days_on(calendar: OpenDays, day: date) -> date:
    """Two open days after a day; where they are not known, two days."""
    days = calendar.next_open_days(day, DAYS_TO_TELL)
    return days[-1] if len(days) == DAYS_TO_TELL else day + timedelta(days=DAYS_TO_TELL)


def _open_days_back(calendar: OpenDays, day: date) -> date:
    """Two open days before a day; where they are not known, two days."""
    if not calendar.covers(day, day):
        return day - timedelta(days=DAYS_TO_TELL)
    days = calendar.last_open_days(day, DAYS_TO_TELL)
    return days[-1] if len(days) == DAYS_TO_TELL else day - timedelta(days=DAYS_TO_TELL)


def _of_follow_ups(case: Case, due: Iterable[FollowUp]) -> Iterator[Concern]:
    for follow_up in due:
        if follow_up.booked_on:
            concern = _booked_outside(case, follow_up)
        elif follow_up.minutes:
            concern = _not_rebooked(case, follow_up) or _unbooked(case, follow_up)
        else:
            concern = _task_late(follow_up)
        if concern:
            yield concern


def _booked_outside(case: Case, follow_up: FollowUp) -> Concern | None:
    on = follow_up.booked_on
    if on is None or follow_up.provisional or follow_up.has_inside(on):
        return None
    for held in case.facts.appointments:
        if held.outcome is None and held.on == on and held.approved and serves(held, follow_up):
            return None
    return _of(follow_up, Headline.BOOKED_OUTSIDE, follow_up.anchor_on, Owner.ADMIN)


def _not_rebooked(case: Case, follow_up: FollowUp) -> Concern | None:
    held = sorted((each for each in case.facts.appointments if serves(each, follow_up)), key=lambda each: each.on)
    if not held or held[-1].outcome is Outcome.ATTENDED:
        return None
    failed = [each for each in held if each.outcome is not Outcome.ATTENDED]
    last = failed[-1]
    from_on = last.ended_on or (follow_up.anchor_on if last.outcome in CANCELLED else last.on)
    lead_on = None if follow_up.provisional else follow_up.latest_on + ONE_DAY
    if len(failed) >= SECOND_TIME or (lead_on and lead_on <= from_on):
        return _of(follow_up, Headline.NOT_REBOOKED, from_on, Owner.LEAD)
    concern = _of(follow_up, Headline.NOT_REBOOKED, from_on, Owner.ADMIN)
    return concern._replace(then_on=lead_on, then_owner=Owner.LEAD) if lead_on else concern


def _unbooked(case: Case, follow_up: FollowUp) -> Concern | None:
    if follow_up.provisional:
        return None
    presses_on = pressing_on(case.calendar, follow_up.kind, follow_up.earliest_on, follow_up.latest_on)
    return _of(follow_up, Headline.VISIT_UNBOOKED, presses_on or follow_up.anchor_on, Owner.ADMIN)


def _task_late(follow_up: FollowUp) -> Concern | None:
    if follow_up.provisional:
        return None
    return _of(follow_up, Headline.TASK_LATE, follow_up.latest_on + ONE_DAY, Owner.THERAPIST)


def _of(follow_up: FollowUp, headline: Headline, from_on: date, owner: Owner) -> Concern:
    return Concern(headline, from_on, owner, follow_up.latest_on, follow_up.key)
