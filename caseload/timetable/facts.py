"""What is known of one episode, as values. Dates are local calendar days; day 0 is the day of surgery."""

from dataclasses import dataclass
from datetime import date

from caseload.timetable.terms import (
    Digit,
    Ending,
    FindingKind,
    FollowUpKind,
    Outcome,
    Side,
    Source,
    Suture,
    Technique,
    WoundState,
)

FIRST_DAY = date.min
"""Stands for "since ever" where no day is known, and as `as_of` for a timetable that no passing day changes."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A dated clinical observation that stands: neither corrected nor withdrawn.

    `ref` is its lasting identity: follow-ups that a finding causes hang on it, also after a correction.
    `out` and `left` are for stitches, `state` for the wound, `closed_on` for a red flag.
    `confirmed_full` says that somebody confirmed that none are left although the counts do not add up.
    """

    ref: str
    kind: FindingKind
    on: date
    source: Source = Source.SEEN
    recorded_on: date | None = None
    countersigned_on: date | None = None
    out: int | None = None
    left: int | None = None
    confirmed_full: bool = False
    state: WoundState | None = None
    closed_on: date | None = None


@dataclass(frozen=True, slots=True)
class SetReview:
    """A review that a therapist set in `in_days` days from the visit of `on`."""

    ref: str
    on: date
    in_days: int
    minutes: int = 20


@dataclass(frozen=True, slots=True)
class Instruction:
    """What the surgeon ordered for one item (a follow-up kind or an activity kind); it beats the rules.

    Days count from surgery. A follow-up takes `earliest`, `target` and `latest`; an activity takes `from_day`
    or `locked`. `confirmed` is false once the surgery date was corrected after it was given.
    """

    item: str
    by: str
    why: str
    earliest: int | None = None
    target: int | None = None
    latest: int | None = None
    from_day: int | None = None
    locked: bool = False
    confirmed: bool = True


@dataclass(frozen=True, slots=True)
class Appointment:
    """A booked day and the follow-ups it serves, by kind or by key; `outcome` is None while it is live.

    `ended_on` is the day on which it was cancelled or found not attended; `approved` says that a named clinician
    approved a day outside the window; `untold_since` is set while the patient does not know of a change, and
    `interpreter_untold` while the interpreter whom the patient needs does not know of the day.
    """

    on: date
    serves: tuple[str, ...]
    outcome: Outcome | None = None
    ended_on: date | None = None
    approved: bool = False
    untold_since: date | None = None
    interpreter_untold: bool = False


@dataclass(frozen=True, slots=True)
class Done:
    """A follow-up that was carried out, named by kind or by key."""

    kind: str
    on: date


@dataclass(frozen=True, slots=True)
class EpisodeFacts:
    """One operated digit of one hand, with everything recorded of it that the timetable depends on.

    `recorded_on` is the day on which the episode came onto the caseload; a missing fact is asked for from then.
    """

    ref: str = ""
    surgery_on: date | None = None
    side: Side | None = None
    digit: Digit | None = None
    suture: Suture = Suture.UNKNOWN
    technique: Technique = Technique.OPEN
    raised_risk: bool = False
    therapy_referral: bool = False
    stitches_in: int | None = None
    born_on: date | None = None
    recorded_on: date | None = None
    findings: tuple[Finding, ...] = ()
    reviews: tuple[SetReview, ...] = ()
    instructions: tuple[Instruction, ...] = ()
    appointments: tuple[Appointment, ...] = ()
    done: tuple[Done, ...] = ()
    closed_on: date | None = None
    closed_as: Ending | None = None

    @property
    def is_open(self) -> bool:
        return self.closed_on is None


def follow_up_key(kind: FollowUpKind, cause: str | None = None) -> str:
    """The lasting name of a follow-up within its episode: `stitches-out`, or `wound-recheck:f12` for a caused one."""
    return f"{kind}:{cause}" if cause else str(kind)
