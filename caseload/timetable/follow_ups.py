"""All follow-ups of one episode: what is due inside which window, what is done, what is not needed any more.

Decided here (trade, section 4):
- Stitches out is done by a full removal and replaced by a re-check after a partial one; the clock runs on.
- The wound check is done by a wound finding that counts, of its earliest day or later, by an entry, or by attending,
  unless ends marked for trimming are still there: then it stays due and needs a visit.
- Reviews are done by attending or by an entry. An entry completes any kind, but opens no gate.
- A closed episode needs nothing more: what was due is dropped, what is done stays.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final, NamedTuple

from caseload.timetable.anchors import Anchors, Counted, find_anchors, from_surgery
from caseload.timetable.case import Case
from caseload.timetable.causes import set_review_days, set_reviews, stitches_rechecks, wound_rechecks
from caseload.timetable.entries import NO_ENTRIES, Instance, allot
from caseload.timetable.facts import Finding
from caseload.timetable.orders import order_reasons, window_of
from caseload.timetable.plan import FollowUp, Reason
from caseload.timetable.rule import Days
from caseload.timetable.terms import Anchor, FollowUpKind
from caseload.timetable.windows import window

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


class Ending(NamedTuple):
    """How a follow-up ended: done on a day, or dropped; and why."""

    done_on: date | None = None
    dropped: bool = False
    reasons: tuple[Reason, ...] = ()


DUE: Final = Ending()


def plan_follow_ups(case: Case) -> Plan:
    """Raises Refusal where an instruction names a follow-up that the rules know nothing of."""
    looks = list(_looks(case))
    anchors = find_anchors(case, looks)
    looks += [_follow_up(case, shape, _entered(case, kind)) for kind in LATER if (shape := _shape(case, kind, anchors))]
    looks += _caused(case, set_reviews(case))
    return Plan(tuple(sorted(looks, key=_place)), anchors)


def _looks(case: Case) -> Iterator[FollowUp]:
    """The follow-ups at which stitches and wound are looked at; nothing before them is needed to date them."""
    surgery_on = case.facts.surgery_on
    surgery = {Anchor.SURGERY: from_surgery(surgery_on)} if surgery_on else {}
    out = _shape(case, FollowUpKind.STITCHES_OUT, surgery)
    check = _shape(case, FollowUpKind.WOUND_CHECK, surgery)
    checked_on = _checked_on(case, check) if check else None
    if out:
        yield _follow_up(case, out, _taken_out(case))
    if check:
        untrimmed = case.evidence.trim is not None and not (checked_on and checked_on < case.evidence.trim.on)
        check = check._replace(in_person=True) if untrimmed else check
        yield _follow_up(case, check, _checked(case, checked_on))
    if case.facts.findings:
        yield from _caused(case, [*stitches_rechecks(case), *wound_rechecks(case, checked_on, check is not None)])


def _place(follow_up: FollowUp) -> tuple[int, date]:
    return _PLACES[follow_up.kind], follow_up.anchor_on


_PLACES: Final = {kind: place for place, kind in enumerate(FollowUpKind)}


def _shape(case: Case, kind: FollowUpKind, anchors: Anchors) -> Shape | None:
    """A follow-up as the surgeon ordered it or the rules give it; None where neither does, or its anchor has no day."""
    applied, order = case.choice.follow_ups.get(kind), case.orders.get(kind)
    if order is not None:
        counted = anchors.get(Anchor.SURGERY)
        rule = applied.rule if applied else case.rules.visit_of(kind)
        days, reasons = window_of(order), order_reasons(order)
    elif applied is not None:
        rule, reasons = applied
        counted, days = anchors.get(rule.anchor), rule.days
    else:
        return None
    return Shape(kind, days, rule.minutes, rule.in_person, counted, reasons) if counted else None


def _follow_up(case: Case, shape: Shape, ending: Ending) -> FollowUp:
    kind, days, minutes, in_person, counted, reasons, cause = shape
    key = f"{kind}:{cause}" if cause else kind.value
    found = window(case.calendar, counted.on, days)
    if ending.done_on is None and not ending.dropped and case.facts.closed_on:
        ending = Ending(dropped=True, reasons=(Reason("episode-closed", (case.facts.closed_on, case.facts.closed_as)),))
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


def _taken_out(case: Case) -> Ending:
    """Stitches out: done by a full removal, whoever reports it; replaced by a re-check after a partial one."""
    removal, partial = case.evidence.removal, case.evidence.partial
    if removal:
        return Ending(removal.on, reasons=_removed(removal, case.evidence.removal_counts))
    entered = _entered(case, FollowUpKind.STITCHES_OUT)
    if entered.done_on is None and partial:
        counts = (Reason("counts-disagree", partial.counts),) if partial.counts else ()
        return Ending(dropped=True, reasons=(*counts, Reason("replaced-by-recheck", (partial.finding.on,))))
    return entered


def _removed(removal: Finding, counts: bool) -> tuple[Reason, ...]:
    done = Reason("done-removal", (removal.on, removal.source))
    return (done,) if counts else (done, Reason("removal-not-vouched-for", (removal.on,)))


def _checked_on(case: Case, check: Shape) -> date | None:
    """The day of the wound check: a wound finding that counts, an entry, or an attended visit; trims left aside."""
    earliest = window(case.calendar, check.counted.on, check.days).earliest_on
    days = [wound.on for wound in case.evidence.wounds if wound.on >= earliest]
    entered = case.entries.done_on(check.kind, check.kind)
    return min([*days, entered] if entered else days, default=None)


def _checked(case: Case, checked_on: date | None) -> Ending:
    if checked_on is None:
        return DUE
    done_on = checked_on
    for needed, trimmed in case.evidence.trims:
        if needed.on <= checked_on and trimmed is None:
            return Ending(reasons=(Reason("trim-pending", (needed.on,)),))
        if needed.on <= checked_on and trimmed:
            done_on = max(done_on, trimmed.on)
    return Ending(done_on, reasons=(Reason("done-checked", (done_on,)),))


def _entered(case: Case, kind: FollowUpKind, key: str | None = None) -> Ending:
    done_on = case.entries.done_on(kind, key or kind)
    return Ending(done_on, reasons=(Reason("done-entered", (done_on,)),)) if done_on else DUE


def _caused(case: Case, caused: Iterable[Instance]) -> list[FollowUp]:
    """Follow-ups with a cause; entries that name only their kind are allotted among them first."""
    instances = list(caused)
    if instances and case.entries is not NO_ENTRIES:
        case = case._replace(entries=allot(case.entries, instances))
    return [_follow_up(case, _caused_shape(case, each), _caused_ending(case, each)) for each in instances]


def _caused_shape(case: Case, each: Instance) -> Shape:
    anchor = Anchor.VISIT if each.kind is FollowUpKind.SET_REVIEW else Anchor.FINDING
    counted = Counted(anchor, each.anchor_on, False, (each.why,))
    if anchor is Anchor.VISIT:
        review = next(review for review in case.facts.reviews if review.ref == each.cause)
        return Shape(each.kind, set_review_days(review.in_days), review.minutes, True, counted, (), each.cause)
    rule, reasons = case.choice.follow_ups[each.kind]
    return Shape(each.kind, rule.days, rule.minutes, rule.in_person, counted, reasons, each.cause)


def _caused_ending(case: Case, each: Instance) -> Ending:
    if each.ended_on is None:
        return _entered(case, each.kind, each.key)
    return Ending(each.ended_on, reasons=(Reason("done-found", (each.ended_on,)),))
