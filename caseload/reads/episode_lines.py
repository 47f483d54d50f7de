"""The lines of an episode's page: each thing recorded or derived of it, with what its row says beside the value."""

from dataclasses import dataclass

from caseload.models import Appointment, Finding, Instruction
from caseload.timetable.plan import Activity, FollowUp
from caseload.timetable.terms import (
    ActivityKind,
    Booking,
    FindingKind,
    FollowUpKind,
    Headline,
    Lock,
    Owner,
    Source,
    Status,
)
from caseload.wording.advice import Advice


@dataclass(frozen=True, slots=True)
class HeadlineLine:
    """What needs somebody today, whose it is, why and what to do; and the headlines under it with their owners."""

    word: Headline
    owner: Owner
    advice: Advice
    others: list[tuple[Headline, Owner]]


@dataclass(frozen=True, slots=True)
class FollowUpLine:
    """A follow-up on the page. `appointment` is the live one that serves it, or None."""

    row: FollowUp
    kind: FollowUpKind
    status: Status
    days_late: int
    booking: Booking
    appointment: Appointment | None
    why: list[str]

    @property
    def review(self) -> int | None:
        """The key of the review that a therapist set, where it is one."""
        return int(self.row.key.rpartition(":r")[2]) if self.kind is FollowUpKind.SET_REVIEW else None

    @property
    def by_finding(self) -> bool:
        """Whether only a finding can complete it."""
        checks = (FollowUpKind.STITCHES_OUT, FollowUpKind.STITCHES_RECHECK, FollowUpKind.WOUND_RECHECK)
        return self.kind in checks


@dataclass(frozen=True, slots=True)
class ActivityLine:
    """An activity on the page: `locked_by` is everything that keeps it from being started today."""

    row: Activity
    kind: ActivityKind
    locked_by: tuple[Lock, ...]
    over: bool
    why: list[str]


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A finding as it was recorded; `later` is what corrected or withdrew it, or None while it stands; `earlier` says
    what it corrects. `to_countersign`: nobody vouched for it yet; `waits`: and nothing seen here since tells more.
    """

    row: Finding
    said: str
    source: Source
    later: Finding | None
    earlier: str
    to_countersign: bool
    waits: bool

    @property
    def open_flag(self) -> bool:
        return self.row.kind == FindingKind.RED_FLAG and not self.later and not hasattr(self.row, "closure")

    @property
    def partial(self) -> bool:
        return self.row.kind == FindingKind.STITCHES and bool(self.row.stitches_left)


@dataclass(frozen=True, slots=True)
class InstructionLine:
    """`to_confirm`: the surgery date was corrected after it was given."""

    row: Instruction
    said: str
    to_confirm: bool
