"""The gates that keep an activity locked whatever the day, and why each is shut.

Decided here: only a finding opens a gate. The wound gate also needs ends that were marked for trimming to be trimmed; a
wound that is found not closed shuts it again until a later finding says closed.
"""

from typing import Final

from caseload.timetable.evidence import NOTHING, Evidence
from caseload.timetable.plan import Reason
from caseload.timetable.rule import GATES
from caseload.timetable.terms import Lock

Shut = dict[Lock, tuple[Reason, ...]]
Gates = tuple[Lock, ...]
Locked = tuple[Gates, tuple[Reason, ...]]
GATINGS: Final = ((), *((gate,) for gate in GATES), GATES)
"""Every set of gates that a rule can name."""
NO_CLOSING: Final = (Reason("wound-not-recorded"),)
NO_REMOVAL: Final = (Reason("removal-not-recorded"),)
GATE_REASONS: Final = frozenset(
    {
        "wound-not-recorded",
        "wound-not-closed",
        "wound-held-by-stitches",
        "removal-not-recorded",
        "removal-not-vouched-for",
        "stitches-still-in",
        "counts-disagree",
        "trim-pending",
    }
)


def locked_gates(evidence: Evidence) -> dict[Gates, Locked]:
    """What every set of gates that a rule can name comes to."""
    shut = _shut(evidence)
    return {gates: _locks(gates, shut) for gates in GATINGS}


def _shut(evidence: Evidence) -> Shut:
    """The gates that are shut, each with the reasons why."""
    shut: Shut = {}
    if evidence.closed is None:
        shut[Lock.WOUND_CLOSED] = _why_not_closed(evidence)
    if not evidence.removal_counts:
        shut[Lock.STITCHES_OUT] = _why_not_out(evidence)
    if evidence.trim:
        shut[Lock.TRIMMED] = (Reason("trim-pending", (evidence.trim.on,)),)
    return shut


def _why_not_closed(evidence: Evidence) -> tuple[Reason, ...]:
    if evidence.unclosed:
        return (Reason("wound-not-closed", (evidence.unclosed.on, evidence.unclosed.state)),)
    if evidence.held:
        return (Reason("wound-held-by-stitches", (evidence.held.on,)),)
    return NO_CLOSING


def _why_not_out(evidence: Evidence) -> tuple[Reason, ...]:
    if evidence.removal:
        return (Reason("removal-not-vouched-for", (evidence.removal.on,)),)
    partial = evidence.partial
    if partial:
        counts = (Reason("counts-disagree", partial.counts),) if partial.counts else ()
        return (*counts, Reason("stitches-still-in", (partial.finding.on, partial.finding.left)))
    return NO_REMOVAL


def _locks(gates: Gates, shut: Shut) -> Locked:
    """The locks that gates come to, in their order; a trim that is still needed stands in the way of a wound gate."""
    asked = (*gates, Lock.TRIMMED) if Lock.WOUND_CLOSED in gates else gates
    locks = tuple([gate for gate in asked if gate in shut])
    return locks, tuple([reason for gate in locks for reason in shut[gate]])


BEFORE_FINDINGS: Final = locked_gates(NOTHING[True])
"""Every gate is shut until a finding opens it."""
