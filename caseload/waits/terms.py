"""The words of waits. Each state word is written once, here.

A clock runs from a day to the day on which what was waited for happened. A wait that has not stopped is still counted:
`WAITING`. One that can no longer stop so has ended otherwise: a competing end.
"""

from enum import StrEnum
from typing import Final


class Clock(StrEnum):
    """What is waited for, and from when.

    The two derived ones are read from the rows of another clock: `FIRST_VISIT_RESTARTED` begins anew where the first
    visit was missed, `SLIPPAGE` runs from the target day to the day on which the stitches were out.
    """

    FIRST_VISIT = "first-visit"
    FIRST_VISIT_RESTARTED = "first-visit-restarted"
    OFFERED = "appointment-offered"
    STITCHES_OUT = "stitches-out"
    SLIPPAGE = "stitches-out-slippage"
    WOUND_CLOSED = "wound-closed"


READ_FROM: Final = {Clock.FIRST_VISIT_RESTARTED: Clock.FIRST_VISIT, Clock.SLIPPAGE: Clock.STITCHES_OUT}
STORED: Final = tuple(clock for clock in Clock if clock not in READ_FROM)


class End(StrEnum):
    """How a wait stands or ended. `SEEN` is what was waited for, whatever the clock; the rest are competing ends."""

    WAITING = "waiting"
    SEEN = "seen"
    DECLINED = "declined"
    DISCHARGED_UNSEEN = "discharged-unseen"
    DID_NOT_ATTEND = "did-not-attend"
    COMPLETED = "completed"
    DISCHARGED = "discharged"
    REFERRED_BACK = "referred-back"
    TRANSFERRED = "transferred"
    REOPERATION = "reoperation"
    DIED = "died"
    NOT_DONE = "operation-not-done"


COMPETING: Final = tuple(end for end in End if end not in (End.WAITING, End.SEEN))


class Behind(StrEnum):
    """Which waits of a period stand behind a figure; from `EARLY` on those of stitches against their window."""

    ALL = "all"
    AT_START = "at-start"
    BEGAN = "began"
    WAITING = "waiting"
    SEEN = "seen"
    SEEN_WITHIN = "seen-within"
    SEEN_LATE = "seen-late"
    ENDED = "ended"
    DUE = "due"
    WITHIN = "within"
    NOT_WITHIN = "not-within"
    EARLY = "early"
    INSIDE = "inside"
    LATE = "late"
    OVERDUE = "overdue"
    AHEAD = "ahead"
    ENDED_OTHERWISE = "ended-otherwise"


class Signal(StrEnum):
    """Why a point of a chart may be more than chance: outside its limits, or the eighth in a row (or later) on one side
    of the mean."""

    BEYOND = "beyond"
    RUN = "run"


class Side(StrEnum):
    ABOVE = "above"
    BELOW = "below"


TOO_FEW: Final = "too-few"
"""Why there is no curve."""
FEWEST: Final = 5
"""Fewer waits than this get their numbers and no curve: a curve through four people says nothing."""
