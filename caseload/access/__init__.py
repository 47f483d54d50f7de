"""Who may do what: one table, used by acts and pages alike.

Roles add up: a person who holds several may do what any of them may. Everybody on the staff may look at the caseload,
since an admin books for all and a lead answers for all; what each role may change differs.
"""

from collections.abc import Set
from enum import StrEnum

from caseload.errors import Refusal
from caseload.timetable.terms import Owner


class Act(StrEnum):
    """Everything that changes or takes away something, named noun.verb."""

    PATIENT_ADD = "patient.add"
    PATIENT_CORRECT = "patient.correct"
    REFERRAL_ADD = "referral.add"
    REFERRAL_CORRECT = "referral.correct"
    EPISODE_OPEN = "episode.open"
    EPISODE_CORRECT = "episode.correct"
    EPISODE_CLOSE = "episode.close"
    EPISODE_REOPERATE = "episode.reoperate"
    EPISODE_MOVE_RULES = "episode.move-rules"
    EPISODES_REDERIVE = "episodes.rederive"
    VISIT_RECORD = "visit.record"
    VISIT_WITHDRAW = "visit.withdraw"
    MEASUREMENT_CORRECT = "measurement.correct"
    FINDING_RECORD = "finding.record"
    FINDING_CORRECT = "finding.correct"
    FINDING_COUNTERSIGN = "finding.countersign"
    RED_FLAG_ESCALATE = "red-flag.escalate"
    RED_FLAG_CLOSE = "red-flag.close"
    INSTRUCTION_GIVE = "instruction.give"
    INSTRUCTION_CONFIRM = "instruction.confirm"
    INSTRUCTION_WITHDRAW = "instruction.withdraw"
    REVIEW_SET = "review.set"
    REVIEW_WITHDRAW = "review.withdraw"
    FOLLOW_UP_COMPLETE = "follow-up.complete"
    APPOINTMENT_BOOK = "appointment.book"
    APPOINTMENT_MOVE = "appointment.move"
    APPOINTMENT_END = "appointment.end"
    APPOINTMENT_TELL = "appointment.tell"
    APPOINTMENT_ARRIVE = "appointment.arrive"
    APPOINTMENT_UNDO = "appointment.undo"
    APPOINTMENT_WALK_IN = "appointment.walk-in"
    SLOTS_HOLD = "slots.hold"
    WEEK_SAVE = "week.save"
    SESSION_ADD = "session.add"
    SESSION_CHANGE = "session.change"
    SESSIONS_LOSE = "sessions.lose"
    SESSIONS_MAKE = "sessions.make"
    ABSENCE_ADD = "absence.add"
    ABSENCE_END = "absence.end"
    FEED_MAKE = "feed.make"
    FEED_REVOKE = "feed.revoke"
    CONTACT_LOG = "contact.log"
    NOTICE_SEND = "notice.send"
    NOTICE_CALL = "notice.call"
    NOTICE_WITHDRAW = "notice.withdraw"
    REFERRER_WRITE = "referrer.write"
    LETTERS_PRINT = "letters.print"
    LETTERS_POST = "letters.post"
    INTAKE_UPLOAD = "intake.upload"
    INTAKE_CONFIRM = "intake.confirm"
    CLOSURE_ADD = "closure.add"
    CLOSURE_REMOVE = "closure.remove"
    LIST_EXPORT = "list.export"
    PLAN_SHEET_MAKE = "plan-sheet.make"
    JOB_CANCEL = "job.cancel"
    WAITS_READ = "waits.read"
    MONTH_FILE = "month.file"
    DIARY_FILL = "diary.fill"
    PATIENT_OPEN = "patient.open"
    PATIENT_FILE = "patient.file"
    RECORD_KEEP = "record.keep"
    RECORD_REMOVE = "record.remove"
    TRAIL_READ = "trail.read"
    RULES_CHANGE = "rules.change"
    RULES_SIGN = "rules.sign"
    RULES_WITHDRAW = "rules.withdraw"
    PERSON_INVITE = "person.invite"
    PERSON_CHANGE = "person.change"
    PERSON_RESET = "person.reset"
    SIGN_IN = "staff.sign-in"
    SIGN_IN_REFUSED = "staff.sign-in-refused"
    SIGN_OUT = "staff.sign-out"
    PASSWORD_CHANGE = "staff.password"
    SECOND_FACTOR_CHANGE = "staff.second-factor"
    SESSION_END = "staff.session-end"


_ANYBODY = frozenset(Owner)
_CLINICAL = frozenset({Owner.THERAPIST, Owner.LEAD})
_OFFICE = frozenset({Owner.ADMIN, Owner.LEAD})
_LEAD = frozenset({Owner.LEAD})

ALLOWED: dict[Act, frozenset[Owner]] = {
    Act.PATIENT_ADD: _ANYBODY,
    Act.PATIENT_CORRECT: _ANYBODY,
    Act.REFERRAL_ADD: _ANYBODY,
    Act.REFERRAL_CORRECT: _ANYBODY,
    Act.EPISODE_OPEN: _ANYBODY,
    Act.EPISODE_CORRECT: _ANYBODY,
    Act.EPISODE_CLOSE: _CLINICAL,
    Act.EPISODE_REOPERATE: _CLINICAL,
    Act.EPISODE_MOVE_RULES: _LEAD,
    Act.EPISODES_REDERIVE: _LEAD,
    Act.VISIT_RECORD: _CLINICAL,
    Act.VISIT_WITHDRAW: _CLINICAL,
    Act.MEASUREMENT_CORRECT: _CLINICAL,
    Act.FINDING_RECORD: _CLINICAL,
    Act.FINDING_CORRECT: _CLINICAL,
    Act.FINDING_COUNTERSIGN: frozenset({Owner.THERAPIST}),
    Act.RED_FLAG_ESCALATE: _CLINICAL,
    Act.RED_FLAG_CLOSE: _CLINICAL,
    Act.INSTRUCTION_GIVE: _CLINICAL,
    Act.INSTRUCTION_CONFIRM: _CLINICAL,
    Act.INSTRUCTION_WITHDRAW: _CLINICAL,
    Act.REVIEW_SET: _CLINICAL,
    Act.REVIEW_WITHDRAW: _CLINICAL,
    Act.FOLLOW_UP_COMPLETE: _CLINICAL,
    Act.APPOINTMENT_BOOK: _ANYBODY,
    Act.APPOINTMENT_MOVE: _ANYBODY,
    Act.APPOINTMENT_END: _ANYBODY,
    Act.APPOINTMENT_TELL: _ANYBODY,
    Act.APPOINTMENT_ARRIVE: _ANYBODY,
    Act.APPOINTMENT_UNDO: _ANYBODY,
    Act.APPOINTMENT_WALK_IN: _CLINICAL,
    Act.SLOTS_HOLD: _ANYBODY,
    Act.WEEK_SAVE: _LEAD,
    Act.SESSION_ADD: _OFFICE,
    Act.SESSION_CHANGE: _OFFICE,
    Act.SESSIONS_LOSE: _OFFICE,
    Act.SESSIONS_MAKE: _LEAD,
    Act.ABSENCE_ADD: _OFFICE,
    Act.ABSENCE_END: _OFFICE,
    Act.FEED_MAKE: frozenset({Owner.THERAPIST}),
    Act.FEED_REVOKE: frozenset({Owner.THERAPIST}),
    Act.CONTACT_LOG: _ANYBODY,
    Act.NOTICE_SEND: frozenset({Owner.LEAD}),
    Act.NOTICE_CALL: _ANYBODY,
    Act.NOTICE_WITHDRAW: _OFFICE,
    Act.REFERRER_WRITE: _ANYBODY,
    Act.LETTERS_PRINT: _OFFICE,
    Act.LETTERS_POST: _OFFICE,
    Act.INTAKE_UPLOAD: _OFFICE,
    Act.INTAKE_CONFIRM: _OFFICE,
    Act.CLOSURE_ADD: _OFFICE,
    Act.CLOSURE_REMOVE: _OFFICE,
    Act.LIST_EXPORT: _ANYBODY,
    Act.PLAN_SHEET_MAKE: _ANYBODY,
    Act.JOB_CANCEL: _ANYBODY,
    Act.WAITS_READ: _LEAD,
    Act.MONTH_FILE: _LEAD,
    Act.DIARY_FILL: _OFFICE,
    Act.PATIENT_OPEN: _ANYBODY,
    Act.PATIENT_FILE: _LEAD,
    Act.RECORD_KEEP: _LEAD,
    Act.RECORD_REMOVE: _LEAD,
    Act.TRAIL_READ: _LEAD,
    Act.RULES_CHANGE: _LEAD,
    Act.RULES_SIGN: _LEAD,
    Act.RULES_WITHDRAW: _LEAD,
    Act.PERSON_INVITE: _LEAD,
    Act.PERSON_CHANGE: _LEAD,
    Act.PERSON_RESET: _LEAD,
    Act.SIGN_IN: _ANYBODY,
    Act.SIGN_IN_REFUSED: _ANYBODY,
    Act.SIGN_OUT: _ANYBODY,
    Act.PASSWORD_CHANGE: _ANYBODY,
    Act.SECOND_FACTOR_CHANGE: _ANYBODY,
    Act.SESSION_END: _ANYBODY,
}


def may(roles: Set[Owner], act: Act) -> bool:
    return not ALLOWED[act].isdisjoint(roles)


def demand(roles: Set[Owner], act: Act) -> None:
    """Raise Refusal `not-allowed` naming who may, unless one of `roles` may."""
    if not may(roles, act):
        able = " or ".join(sorted(ALLOWED[act]))
        raise Refusal("not-allowed", f"This needs the role of {able}. Ask a colleague who holds it.", act=act)
