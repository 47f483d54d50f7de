"""The days that rules count from, recorded or provisional.

Decided here: an anchor that is not recorded yet is taken from the booked day of the follow-up that will record it,
failing that from its proposed day (or the first open day after a window without one), and never from a day before
`as_of`. All that hangs on it is provisional.
- Stitches out is recorded by the re-check after a partial removal, else by stitches-out, else by the wound check.
- Wound closed is recorded by the wound re-check, else by the wound check, but not before stitches that must come out.
"""

from collections.abc import Sequence
from datetime import date
from typing import Final

from caseload.timetable.case import Case, Counted
from caseload.timetable.plan import FollowUp, Reason
from caseload.timetable.terms import Anchor, FollowUpKind

STITCHES_LOOKS: Final = (FollowUpKind.STITCHES_RECHECK, FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK)
WOUND_LOOKS: Final = (FollowUpKind.WOUND_RECHECK, FollowUpKind.WOUND_CHECK)

Anchors = dict[Anchor, Counted]


def find_anchors(case: Case, looks: Sequence[FollowUp]) -> Anchors:
    """Every anchor that has a day and that a rule counts from. `looks` are the follow-ups at which stitches and wound
    are looked at."""
    found = [case.surgery]
    if Anchor.STITCHES_OUT in case.choice.anchors:
        found.append(_stitches_out(case, looks))
    if Anchor.WOUND_CLOSED in case.choice.anchors:
        found.append(_wound_closed(case, looks))
    return {counted.anchor: counted for counted in found if counted}


def _stitches_out(case: Case, looks: Sequence[FollowUp]) -> Counted | None:
    removal = case.evidence.removal
    if removal:
        why = Reason("counted-stitches-out", (removal.on, removal.source))
        return Counted(Anchor.STITCHES_OUT, removal.on, False, (why,))
    look = _pending(looks, STITCHES_LOOKS)
    return _provisional(Anchor.STITCHES_OUT, look, case.as_of) if look else None


def _wound_closed(case: Case, looks: Sequence[FollowUp]) -> Counted | None:
    closed = case.evidence.closed
    if closed:
        why = Reason("counted-wound-closed", (closed.on, closed.source))
        return Counted(Anchor.WOUND_CLOSED, closed.on, False, (why,))
    found = [_pending(looks, WOUND_LOOKS)]
    if case.evidence.to_remove and case.evidence.removal is None:
        found.append(_pending(looks, STITCHES_LOOKS))
    counted = [_provisional(Anchor.WOUND_CLOSED, look, case.as_of) for look in found if look]
    return max(counted, key=lambda anchor: anchor.on, default=None)


def _pending(looks: Sequence[FollowUp], kinds: Sequence[FollowUpKind]) -> FollowUp | None:
    """The follow-up still due of the first of these kinds; where none is due, the last that there was."""
    for kind in kinds:
        due = [look for look in looks if look.kind is kind and look.is_due]
        if due:
            return due[-1]
    return next((look for look in reversed(looks) if look.kind in kinds), None)


def _provisional(anchor: Anchor, look: FollowUp, as_of: date) -> Counted:
    on, how = _expected(look)
    if on < as_of:
        on, how = as_of, "today"
    return Counted(anchor, on, True, (Reason("counted-provisional", (anchor, on, look.kind, how)),))


def _expected(look: FollowUp) -> tuple[date, str]:
    if look.done_on:
        return look.done_on, "done"
    if look.booked_on:
        return look.booked_on, "booked"
    if look.proposed_on:
        return look.proposed_on, "proposed"
    return (look.first_after_on, "first-after") if look.first_after_on else (look.target_on, "target")
