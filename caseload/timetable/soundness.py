"""What must hold of a rule set before anything is derived from it, whoever wrote it.

Stitches do not come out in the first week, and the safety alert neither stands while a window is still open nor waits
longer than two weeks after it (both decided here, from common practice: ten to fourteen days in the palm of a hand). A
surgeon's instruction for one hand is not held to that.

For each of the 32 combinations of suture, technique, raised risk and therapy referral: at most one rule for each kind,
everything that nobody may be without, and only anchors that something records. What records an anchor counts from
surgery or from a finding, never from another anchor, so no date can come to depend on itself.
"""

from collections import Counter
from collections.abc import Iterable, Sequence, Set
from typing import Final

from caseload.errors import Refusal
from caseload.timetable.rule import ActivityRule, Combination, FollowUpRule
from caseload.timetable.terms import Anchor, FollowUpKind, Suture

RECHECKS: Final = frozenset({FollowUpKind.STITCHES_RECHECK, FollowUpKind.WOUND_RECHECK})
ALWAYS: Final = (*sorted(RECHECKS), FollowUpKind.OUTCOME_REVIEW, FollowUpKind.CLOSE)
MAY_COUNT_FROM: Final = {
    FollowUpKind.STITCHES_OUT: (Anchor.SURGERY,),
    FollowUpKind.WOUND_CHECK: (Anchor.SURGERY,),
    FollowUpKind.STITCHES_RECHECK: (Anchor.FINDING,),
    FollowUpKind.WOUND_RECHECK: (Anchor.FINDING,),
    FollowUpKind.THERAPY_REVIEW: (Anchor.SURGERY, Anchor.STITCHES_OUT, Anchor.WOUND_CLOSED),
    FollowUpKind.OUTCOME_REVIEW: (Anchor.SURGERY, Anchor.STITCHES_OUT, Anchor.WOUND_CLOSED),
    FollowUpKind.CLOSE: (Anchor.SURGERY, Anchor.STITCHES_OUT, Anchor.WOUND_CLOSED),
}
"""A set review is not here: its days are set by a therapist, not by a rule."""
FIRST_OUT: Final = 7
"""The first day after surgery on which a rule may have stitches taken out."""
ALERT_WITHIN: Final = 14
"""So many days after the last window for stitches and wound the safety alert has to stand."""


def check_rule(rule: FollowUpRule, where: str, sutures: Set[Suture]) -> None:
    """Raises Refusal `unsound-rules` where a follow-up counts from what cannot come before it, or names a suture that
    rules of its shape do not know."""
    _check_sutures(rule, where, sutures)
    allowed = MAY_COUNT_FROM.get(rule.kind)
    if allowed is None:
        raise _unsound(f"{where} ({rule.kind})", "its days are set at a visit, not by a rule", "leave the rule out")
    if rule.anchor not in allowed:
        wrong = f"it cannot count from “{rule.anchor}”, which does not come before it"
        raise _unsound(f"{where} ({rule.kind}).anchor", wrong, f"give one of {', '.join(allowed)}")
    if rule.kind is FollowUpKind.STITCHES_OUT and rule.days.earliest < FIRST_OUT:
        wrong = f"stitches would come out on day {rule.days.earliest}, before the wound holds"
        raise _unsound(f"{where} ({rule.kind}).earliest", wrong, f"give day {FIRST_OUT} or later")


def check_alert(day: int, follow_ups: Sequence[FollowUpRule]) -> None:
    """Raises Refusal `unsound-rules` where the safety alert would stand inside a window, or long after all of them."""
    looks = (FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK)
    latest = max((rule.days.latest for rule in follow_ups if rule.kind in looks), default=day - 1)
    if not latest < day <= latest + ALERT_WITHIN:
        wrong = f"the alert of day {day} does not fit day {latest}, the latest for stitches or wound"
        raise _unsound("safety_alert_day", wrong, f"give a day from {latest + 1} to {latest + ALERT_WITHIN}")


def check_activity(rule: ActivityRule, where: str, sutures: Set[Suture]) -> None:
    """The same of an activity, which cannot count from what only a follow-up can count from."""
    _check_sutures(rule, where, sutures)
    for anchor in sorted(rule.anchors):
        if anchor in (Anchor.FINDING, Anchor.VISIT):
            wrong = f"an activity cannot count from “{anchor}”"
            raise _unsound(f"{where} ({rule.kind}).anchor", wrong, "give surgery, stitches-out or wound-closed")


def _check_sutures(rule: FollowUpRule | ActivityRule, where: str, sutures: Set[Suture]) -> None:
    for suture in rule.when.suture:
        if suture not in sutures:
            wrong = f"rules of this shape do not know the suture “{suture}”"
            raise _unsound(f"{where} ({rule.kind}).when.suture", wrong, "raise the shape")


def check_combination(to: Combination, follow_ups: Sequence[FollowUpRule], activities: Sequence[ActivityRule]) -> None:
    """Raises Refusal `unsound-rules`, which names the combination and the kind."""
    _check_once(to, [*(str(rule.kind) for rule in follow_ups), *(str(rule.kind) for rule in activities)])
    kinds = {rule.kind for rule in follow_ups}
    for kind in ALWAYS:
        if kind not in kinds:
            raise _unsound(str(kind), f"no rule gives it for {_said(to)}", "add one")
    if not kinds & {FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK}:
        raise _unsound("follow_ups", f"nobody looks at the wound for {_said(to)}", "add stitches-out or wound-check")
    _check_anchors(to, kinds, follow_ups, activities)


def _check_once(to: Combination, kinds: Iterable[str]) -> None:
    for kind, count in Counter(kinds).items():
        if count > 1:
            raise _unsound(kind, f"{count} rules give it for {_said(to)}", "let exactly one apply")


def _check_anchors(
    to: Combination,
    kinds: set[FollowUpKind],
    follow_ups: Sequence[FollowUpRule],
    activities: Sequence[ActivityRule],
) -> None:
    """An anchor needs a follow-up that records it: with an unknown suture the wound check looks for stitches too."""
    if FollowUpKind.STITCHES_OUT in kinds or to.suture is Suture.UNKNOWN:
        return
    counting = {str(rule.kind): {rule.anchor} for rule in follow_ups}
    counting |= {str(rule.kind): rule.anchors for rule in activities}
    for kind, anchors in counting.items():
        if Anchor.STITCHES_OUT in anchors:
            wrong = f"it counts from stitches-out, which nothing records for {_said(to)}"
            raise _unsound(f"{kind}.anchor", wrong, "add a stitches-out rule or count from something else")


def _said(to: Combination) -> str:
    risk = "raised risk" if to.raised_risk else "no raised risk"
    referral = "therapy referral" if to.therapy_referral else "no therapy referral"
    return f"suture {to.suture}, {to.technique}, {risk}, {referral}"


def _unsound(place: str, wrong: str, right: str) -> Refusal:
    return Refusal("unsound-rules", f"{place}: {wrong}; {right}.", field=place)
