"""How follow-ups end: done on a day, or dropped, and why.

Decided here:
- Stitches out is done by a full removal and replaced by a re-check after a partial one; the clock runs on.
- The wound check is done by a wound finding that counts, of its earliest day or later, by an entry, or by attending,
  unless ends marked for trimming are still there: then it stays due and needs a visit.
- Reviews are done by attending or by an entry. An entry completes any kind, but opens no gate.
"""

from datetime import date
from typing import Final, NamedTuple

from caseload.timetable.case import Case
from caseload.timetable.entries import Instance
from caseload.timetable.facts import Finding
from caseload.timetable.plan import Reason
from caseload.timetable.terms import FollowUpKind


class Ending(NamedTuple):
    """Done on a day, dropped, or neither: still due."""

    done_on: date | None = None
    dropped: bool = False
    reasons: tuple[Reason, ...] = ()


DUE: Final = Ending()


def end_stitches_out(case: Case) -> Ending:
    """Done by a full removal, whoever reports it; replaced by a re-check after a partial one."""
    removal, partial = case.evidence.removal, case.evidence.partial
    if removal:
        return Ending(removal.on, reasons=_removed(removal, case.evidence.removal_counts))
    entered = end_by_entry(case, FollowUpKind.STITCHES_OUT)
    if entered.done_on is None and partial:
        counts = (Reason("counts-disagree", partial.counts),) if partial.counts else ()
        return Ending(dropped=True, reasons=(*counts, Reason("replaced-by-recheck", (partial.finding.on,))))
    return entered


def day_of_check(case: Case, earliest_on: date) -> date | None:
    """The day of the wound check: a wound finding that counts, an entry, or an attended visit; trims left aside."""
    days = [wound.on for wound in case.evidence.wounds if wound.on >= earliest_on]
    entered = case.entries.done_on(FollowUpKind.WOUND_CHECK, FollowUpKind.WOUND_CHECK)
    return min([*days, entered] if entered else days, default=None)


def end_check(case: Case, checked_on: date | None) -> Ending:
    """Done on the day of the check, or once all ends that were marked by then are trimmed."""
    if checked_on is None:
        return DUE
    trims = [(needed, trimmed) for needed, trimmed in case.evidence.trims if needed.on <= checked_on]
    for needed, trimmed in trims:
        if trimmed is None:
            return Ending(reasons=(Reason("trim-pending", (needed.on,)),))
    done_on = max([checked_on, *(trimmed.on for _, trimmed in trims if trimmed)])
    looked_at = any(wound.on == checked_on for wound in case.evidence.wounds)
    return Ending(done_on, reasons=(Reason("done-checked" if looked_at else "done-entered", (done_on,)),))


def end_by_entry(case: Case, kind: FollowUpKind, key: str | None = None) -> Ending:
    """Done as entered, or attended where that is enough; else due."""
    done_on = case.entries.done_on(kind, key or kind)
    return Ending(done_on, reasons=(Reason("done-entered", (done_on,)),)) if done_on else DUE


def end_by_finding(case: Case, each: Instance) -> Ending:
    """A follow-up with a cause: done by the finding that ended it, else by an entry."""
    if each.ended_on is None:
        return end_by_entry(case, each.kind, each.key)
    return Ending(each.ended_on, reasons=(Reason("done-found", (each.ended_on,)),))


def drop_if_closed(case: Case, ending: Ending) -> Ending:
    """A closed episode needs nothing more: what was due is dropped, what is done stays."""
    closed_on = case.facts.closed_on
    if closed_on is None or ending.done_on or ending.dropped:
        return ending
    return Ending(dropped=True, reasons=(Reason("episode-closed", (closed_on, case.facts.closed_as)),))


def _removed(removal: Finding, counts: bool) -> tuple[Reason, ...]:
    done = Reason("done-removal", (removal.on, removal.source))
    return (done,) if counts else (done, Reason("removal-not-vouched-for", (removal.on,)))
