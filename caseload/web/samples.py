"""An invented day line for the help page, with one of everything."""

from datetime import date

from caseload.reads.lines import Gate, Line, Span, Tick
from caseload.timetable.terms import FindingKind, FollowUpKind, Lock, Status

SAMPLE = Line(
    surgery_on=date(2026, 3, 20),
    today=38,
    spans=(
        Span("stitches-out", FollowUpKind.STITCHES_OUT, Status.DONE, 12, 16, booked=13, done=13),
        Span("wound-recheck:f1", FollowUpKind.WOUND_RECHECK, Status.LATE, 14, 20),
        Span("outcome-review", FollowUpKind.OUTCOME_REVIEW, Status.OPEN, 35, 56, booked=42),
        Span("close", FollowUpKind.CLOSE, Status.AHEAD, 56, 90),
    ),
    gates=(Gate(Lock.STITCHES_OUT, 13, True), Gate(Lock.WOUND_CLOSED, 20, False)),
    ticks=(Tick(FindingKind.STITCHES, 13), Tick(FindingKind.WOUND, 13)),
)
