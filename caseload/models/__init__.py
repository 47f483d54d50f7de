"""Tables, their words for asking, and what the database itself refuses."""

from caseload.models.appointments import Appointment, Purpose, Seat, Told, UndoStep, WorkedOn
from caseload.models.contacts import Contact, How, Reached
from caseload.models.drafts import Draft
from caseload.models.episodes import Episode, Instruction, Work
from caseload.models.fill_plans import FillLine, FillPlan
from caseload.models.findings import Countersignature, Finding, RedFlagClosure, RedFlagEscalation
from caseload.models.follow_ups import FollowUp, State
from caseload.models.intake import IntakeBatch, IntakeRow, IntakeSource, Verdict
from caseload.models.jobs import Job, JobFile, JobState, Pulse, Tick
from caseload.models.notices import LetterBatch, Notice, NoticeState
from caseload.models.patients import Identifier, Patient
from caseload.models.referrals import Referral, ReferralEnd
from caseload.models.reviews import Completion, SetReview
from caseload.models.rulesets import RuleChange, RuleSet
from caseload.models.sessions import Absence, Feed, Session, Slot, WeeklySession
from caseload.models.sites import Closure, Holiday, Region, Site
from caseload.models.staff import Staff
from caseload.models.standings import EVER, Standing
from caseload.models.trail import BreakGlass, Gone, Look, Seal, Submission, TrailEntry
from caseload.models.visits import Examined, Measurement, Visit
from caseload.models.waits import Filing, Wait

__all__ = [
    "EVER",
    "Absence",
    "Appointment",
    "BreakGlass",
    "Closure",
    "Completion",
    "Contact",
    "Countersignature",
    "Draft",
    "Episode",
    "Examined",
    "Feed",
    "FillLine",
    "FillPlan",
    "Filing",
    "Finding",
    "FollowUp",
    "Gone",
    "Holiday",
    "How",
    "Identifier",
    "Instruction",
    "IntakeBatch",
    "IntakeRow",
    "IntakeSource",
    "Job",
    "JobFile",
    "JobState",
    "LetterBatch",
    "Look",
    "Measurement",
    "Notice",
    "NoticeState",
    "Patient",
    "Pulse",
    "Purpose",
    "Reached",
    "RedFlagClosure",
    "RedFlagEscalation",
    "Referral",
    "ReferralEnd",
    "Region",
    "RuleChange",
    "RuleSet",
    "Seal",
    "Seat",
    "Session",
    "SetReview",
    "Site",
    "Slot",
    "Staff",
    "Standing",
    "State",
    "Submission",
    "Tick",
    "Told",
    "TrailEntry",
    "UndoStep",
    "Verdict",
    "Visit",
    "Wait",
    "WeeklySession",
    "Work",
    "WorkedOn",
]
