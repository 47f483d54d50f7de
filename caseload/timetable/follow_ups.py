"""All follow-ups of one episode: what is due inside which window, what is done, what is not needed any more.

First those at which stitches and wound are looked at; they give the days that the others count from. What the surgeon
ordered comes before what the rules give.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final, NamedTuple

from caseload.timetable.anchors import Anchors, find_anchors
from caseload.timetable.case import Case, Counted
from caseload.timetable.causes import set_review_days, set_reviews, stitches_rechecks, wound_rechecks
from caseload.timetable.endings import (
    DUE,
    Ending,
    day_of_check,
    drop_if_closed,
    end_by_entry,
    end_by_finding,
    end_check,
    end_stitches_out,
)
from caseload.timetable.entries import NO_ENTRIES, Instance, allot
from caseload.timetable.facts import follow_up_key
from caseload.timetable.orders import order_reasons, window_of
from caseload.timetable.plan import FollowUp, Reason
from caseload.timetable.rule import Days
from caseload.timetable.rules import AppliedFollowUp
from caseload.timetable.terms import Anchor, FollowUpKind
from caseload.timetable.windows import window

FIRST: Final = (FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK)
LATER: Final = (FollowUpKind.THERAPY_REVIEW, FollowUpKind.OUTCOME_REVIEW, FollowUpKind.CLOSE)
"""Kinds that may count from stitches out or wound closed: made once those have a day."""


class Plan(NamedTuple):
    """Follow-ups in the order of their kinds, and the anchors they count from."""

    follow_ups: tuple[FollowUp, ...]
    anchors: Anchors


class Shape(NamedTuple):
    """What a rule or an instruction makes of a follow-up."""

    kind: FollowUpKind
    days: Days
    minutes: int
    in_person: bool
    counted: Counted
    reasons: tuple[Reason, ...]
    cause: str | None = None


def plan_follow_ups(case: Case) -> Plan:
    """Raises Refusal where an instruction names a follow-up that the rules know nothing of."""
    planned = list(_looks(case))
    anchors = find_anchors(case, planned)
    planned += [follow_up for kind in LATER if (follow_up := _later(case, kind, anchors))]
    if case.facts.findings or case.facts.reviews:
        planned += _caused(case, set_reviews(case))
        planned.sort(key=_place)
    return Plan(tuple(planned), anchors)


def _looks(case: Case) -> Iterator[FollowUp]:
    """The follow-ups at which stitches and wound are looked at; nothing before them is needed to date them."""
    surgery = {Anchor.SURGERY: case.surgery} if case.surgery else {}
    if not case.facts.findings:
        yield from filter(None, (_later(case, kind, surgery) for kind in FIRST))
        return
    out, check = (_shape(case, kind, surgery) for kind in FIRST)
    checked_on = day_of_check(case, _earliest_on(case, check)) if check else None
    if out:
        yield _follow_up(case, out, end_stitches_out(case))
    if check:
        trim = case.evidence.trim
        untrimmed = trim is not None and not (checked_on and checked_on < trim.on)
        check = check._replace(in_person=True) if untrimmed else check
        yield _follow_up(case, check, end_check(case, checked_on))
    yield from _caused(case, [*stitches_rechecks(case), *wound_rechecks(case, checked_on, check is not None)])


def _later(case: Case, kind: FollowUpKind, anchors: Anchors) -> FollowUp | None:
    """A follow-up that no finding ends. Where only the rules have a say, everybody operated on that day has the same:
    it is remembered."""
    applied, surgery = case.choice.follow_ups.get(kind), case.surgery
    if applied and surgery and applied.rule.anchor is Anchor.SURGERY and not case.is_touched(kind):
        return case.calendar.recall((applied, surgery.on), lambda: _follow_up(case, _ruled(applied, surgery), DUE))
    shape = _shape(case, kind, anchors)
    return _follow_up(case, shape, end_by_entry(case, kind)) if shape else None


def _place(follow_up: FollowUp) -> tuple[int, date]:
    return _PLACES[follow_up.kind], follow_up.anchor_on


_PLACES: Final = {kind: place for place, kind in enumerate(FollowUpKind)}


def _shape(case: Case, kind: FollowUpKind, anchors: Anchors) -> Shape | None:
    """A follow-up as the surgeon ordered it or the rules give it; None where neither does, or its anchor has no day."""
    applied, order = case.choice.follow_ups.get(kind), case.orders.get(kind)
    if order is not None and case.surgery:
        rule = applied.rule if applied else case.rules.visit_of(kind)
        return Shape(kind, window_of(order), rule.minutes, rule.in_person, case.surgery, order_reasons(order))
    counted = anchors.get(applied.rule.anchor) if applied else None
    return _ruled(applied, counted) if applied and counted and order is None else None


def _earliest_on(case: Case, shape: Shape) -> date:
    return window(case.calendar, shape.counted.on, shape.days).earliest_on


def _ruled(applied: AppliedFollowUp, counted: Counted) -> Shape:
    rule = applied.rule
    return Shape(rule.kind, rule.days, rule.minutes, rule.in_person, counted, applied.reasons)


def _follow_up(case: Case, shape: Shape, ending: Ending) -> FollowUp:
    kind, days, minutes, in_person, counted, reasons, cause = shape
    key = follow_up_key(kind, cause)
    found = window(case.calendar, counted.on, days)
    ending = drop_if_closed(case, ending)
    return FollowUp(
        key,
        kind,
        cause,
        counted.anchor,
        counted.on,
        found.earliest_on,
        found.target_on,
        found.latest_on,
        found.proposed_on,
        found.first_after_on,
        counted.provisional,
        minutes,
        in_person,
        ending.done_on,
        ending.dropped,
        case.entries.booked_on(key),
        (*reasons, *counted.reasons, *found.reasons, *ending.reasons),
    )


def _caused(case: Case, caused: Iterable[Instance]) -> list[FollowUp]:
    """Follow-ups with a cause; entries that name only their kind are allotted among them first."""
    instances = list(caused)
    if instances and case.entries is not NO_ENTRIES:
        case = case._replace(entries=allot(case.entries, instances))
    return [_follow_up(case, _caused_shape(case, each), end_by_finding(case, each)) for each in instances]


def _caused_shape(case: Case, each: Instance) -> Shape:
    anchor = Anchor.VISIT if each.kind is FollowUpKind.SET_REVIEW else Anchor.FINDING
    counted = Counted(anchor, each.anchor_on, False, (each.why,))
    if anchor is Anchor.VISIT:
        review = next(review for review in case.facts.reviews if review.ref == each.cause)
        return Shape(each.kind, set_review_days(review.in_days), review.minutes, True, counted, (), each.cause)
    return _ruled(case.choice.follow_ups[each.kind], counted)._replace(cause=each.cause)
