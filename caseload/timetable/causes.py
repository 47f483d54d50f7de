"""Follow-ups that a finding or a visit causes: re-checks and set reviews.

Decided here:
- After a partial removal: from that finding, until the next stitches finding.
- While the wound is not closed: from the finding that says so, until the next wound finding that counts.
- After a full removal at which nobody recorded the wound: from the removal, so that nobody is lost. After a removal
  reported from elsewhere: from the day of the report, until the wound is seen here or that finding countersigned.
- Ends marked for trimming when the wound check is already done, or where there is none: from the mark, until trimmed.
- A review set in n days: n - min(3, n // 4) / n / n + min(7, ceil(n / 2)) from the visit.
"""

from collections.abc import Iterator
from datetime import date
from itertools import zip_longest

from caseload.timetable.case import Case
from caseload.timetable.entries import Instance
from caseload.timetable.evidence import is_vouched_for
from caseload.timetable.facts import Finding
from caseload.timetable.plan import Reason
from caseload.timetable.rule import Days
from caseload.timetable.terms import FollowUpKind, Source, WoundState


def stitches_rechecks(case: Case) -> Iterator[Instance]:
    """One for each partial removal, where there are stitches to take out."""
    for partial in case.evidence.partials if case.evidence.to_remove else ():
        finding, ended_by = partial.finding, partial.ended_by
        why = Reason("after-partial", (finding.on, finding.out, finding.left))
        yield _recheck(FollowUpKind.STITCHES_RECHECK, finding, finding.on, ended_by, why)


def wound_rechecks(case: Case, checked_on: date | None, has_check: bool) -> Iterator[Instance]:
    """`checked_on` is the day of the wound check if it is done; `has_check` says whether there is one at all."""
    yield from _while_not_closed(case.evidence.wounds)
    yield from _after_removal(case)
    for needed, trimmed in case.evidence.trims:
        if not has_check or (checked_on and checked_on < needed.on):
            why = Reason("after-trim-needed", (needed.on,))
            yield _recheck(FollowUpKind.WOUND_RECHECK, needed, needed.on, trimmed, why)


def set_reviews(case: Case) -> Iterator[Instance]:
    for review in case.facts.reviews:
        why = Reason("set-review", (review.on, review.in_days))
        yield Instance(FollowUpKind.SET_REVIEW, review.ref, review.on, None, why)


def set_review_days(in_days: int) -> Days:
    """The window of a review set in n days."""
    return Days(in_days - min(3, in_days // 4), in_days, in_days + min(7, (in_days + 1) // 2))


def _while_not_closed(wounds: tuple[Finding, ...]) -> Iterator[Instance]:
    for finding, later in zip_longest(wounds, wounds[1:]):
        if finding.state is not WoundState.CLOSED:
            why = Reason("after-not-closed", (finding.on, finding.state, finding.source))
            yield _recheck(FollowUpKind.WOUND_RECHECK, finding, finding.on, later, why)


def _after_removal(case: Case) -> Iterator[Instance]:
    removal = case.evidence.removal
    if removal is None or not case.evidence.to_remove:
        return
    seen = removal.source is Source.SEEN
    from_on = removal.on if seen else max(removal.on, removal.recorded_on or removal.on)
    looked = next((wound for wound in case.evidence.wounds if _ends_doubt(wound, removal)), None)
    if looked and (looked.on < from_on or (seen and looked.on == from_on)):
        return
    why = Reason("after-removal" if seen else "after-report", (from_on, removal.source))
    yield _recheck(FollowUpKind.WOUND_RECHECK, removal, from_on, looked, why)


def _ends_doubt(wound: Finding, removal: Finding) -> bool:
    """Whether a wound finding settles what a removal left open: a removal on hearsay needs somebody to have looked."""
    return wound.on >= removal.on and (is_vouched_for(removal) or is_vouched_for(wound))


def _recheck(kind: FollowUpKind, cause: Finding, on: date, ended_by: Finding | None, why: Reason) -> Instance:
    return Instance(kind, cause.ref, on, ended_by.on if ended_by else None, why)
