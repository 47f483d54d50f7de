"""The tables of the record as files: their names, and what each is."""

from typing import Final, NamedTuple

from django.db.models import Model

from caseload.models import (
    Absence,
    Appointment,
    BreakGlass,
    Closure,
    Completion,
    Contact,
    Countersignature,
    Episode,
    Examined,
    Filing,
    FillLine,
    FillPlan,
    Finding,
    FollowUp,
    Gone,
    Holiday,
    Identifier,
    Instruction,
    LetterBatch,
    Look,
    Measurement,
    Notice,
    Patient,
    Purpose,
    RedFlagClosure,
    RedFlagEscalation,
    Referral,
    Region,
    RuleChange,
    RuleSet,
    Seal,
    Session,
    SetReview,
    Site,
    Staff,
    TrailEntry,
    Visit,
    WeeklySession,
)

LEFT_OUT: Final = frozenset({
    "Draft", "Feed", "IntakeBatch", "IntakeRow", "IntakeSource", "Job", "JobFile", "Pulse", "Seat",
    "Slot", "Standing", "Submission", "Tick", "UndoStep", "Wait", "WorkedOn",
})  # fmt: skip
"""How the planner works and what it derives for its lists; nothing here is the record."""


_FINDING: Final = "finding__episode__patient"


class File(NamedTuple):
    """`patient` leads from a row to its patient; empty where the table is about no patient."""

    name: str
    model: type[Model]
    says: str
    patient: str = ""


FILES: Final = (
    File("patients", Patient, "the people; their code names them in all other files", "pk"),
    File("identifiers", Identifier, "the numbers that patients have elsewhere", "patient"),
    File("referrals", Referral, "requests for therapy", "patient"),
    File("episodes", Episode, "one operated digit of one hand, from its surgery until it is closed", "patient"),
    File("instructions", Instruction, "what surgeons ordered for one episode", "episode__patient"),
    File("visits", Visit, "meetings with a patient, pictures and calls", "patient"),
    File("digits-examined", Examined, "what each visit says of one digit: what began, what is next", "visit__patient"),
    File("findings", Finding, "dated observations; a correction names the finding it corrects", "episode__patient"),
    File("countersignatures", Countersignature, "who vouches for what was reported or seen on a picture", _FINDING),
    File("red-flags-passed-on", RedFlagEscalation, "to whom a red flag went", _FINDING),
    File("red-flags-closed", RedFlagClosure, "how a red flag ended", _FINDING),
    File("measurements", Measurement, "what was measured: pain, motion, grip and so on", "episode__patient"),
    File("reviews", SetReview, "reviews that a therapist set", "episode__patient"),
    File("follow-ups", FollowUp, "what is due in which window, done or not needed, as the rules derive it", "patient"),
    File("completions", Completion, "follow-ups carried out without a finding of their own", "follow_up__patient"),
    File("appointments", Appointment, "appointments and how they ended", "patient"),
    File("appointments-for", Purpose, "which follow-ups an appointment serves or served", "appointment__patient"),
    File("contacts", Contact, "calls and messages", "patient"),
    File("notices", Notice, "letters, e-mails and reminders, with the text that went out", "patient"),
    File("letter-batches", LetterBatch, "letters printed and posted together"),
    File("sites", Site, "where the service works"),
    File("staff", Staff, "who works or worked here, without passwords"),
    File("weekly-sessions", WeeklySession, "the pattern of the weeks"),
    File("sessions", Session, "the sessions of each day"),
    File("absences", Absence, "who was away, and who covered"),
    File("closures", Closure, "days on which a site is shut"),
    File("regions", Region, "lists of holidays, and how far each is known"),
    File("holidays", Holiday, "their days"),
    File("filling-plans", FillPlan, "plans that filled the diary: for which days, and how good they were"),
    File("filling-lines", FillLine, "what each plan proposed for whom, and what people made of it", "patient"),
    File("filed-months", Filing, "months of waits whose figures were filed for good"),
    File("rules", RuleSet, "the day counts, version by version"),
    File("changes-of-rules", RuleChange, "what leads proposed to change in the day counts, and who signed it"),
    File("trail", TrailEntry, "who changed what, when", "patient"),
    File("looks", Look, "who looked at what, when", "patient"),
    File("seals", Seal, "blocks of the trail and of the looks, each with its digest and that of the block before"),
    File("rows-gone", Gone, "rows of the trail that went with the record of their patient: their digests"),
    File(
        "opened-with-a-reason", BreakGlass, "who opened the record of a patient who was not theirs, and why", "patient"
    ),
)
