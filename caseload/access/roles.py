"""Who may do what: role × act. Roles add up: a person who holds several may do what any of them may."""

from collections.abc import Set
from typing import Final

from caseload.access.acts import Act
from caseload.errors import Refusal
from caseload.timetable.terms import Owner

ANYBODY: Final = frozenset(Owner)
CLINICAL: Final = frozenset({Owner.THERAPIST, Owner.LEAD})
OFFICE: Final = frozenset({Owner.ADMIN, Owner.LEAD})
LEAD: Final = frozenset({Owner.LEAD})

ALLOWED: dict[Act, frozenset[Owner]] = {
    Act.PATIENT_ADD: ANYBODY,
    Act.PATIENT_CORRECT: ANYBODY,
    Act.REFERRAL_ADD: ANYBODY,
    Act.REFERRAL_CORRECT: ANYBODY,
    Act.EPISODE_OPEN: ANYBODY,
    Act.EPISODE_CORRECT: ANYBODY,
    Act.EPISODE_CLOSE: CLINICAL,
    Act.EPISODE_REOPEN: CLINICAL,
    Act.EPISODE_REOPERATE: CLINICAL,
    Act.EPISODE_MOVE_RULES: LEAD,
    Act.EPISODES_REDERIVE: LEAD,
    Act.VISIT_RECORD: CLINICAL,
    Act.VISIT_WITHDRAW: CLINICAL,
    Act.MEASUREMENT_CORRECT: CLINICAL,
    Act.FINDING_RECORD: CLINICAL,
    Act.FINDING_CORRECT: CLINICAL,
    Act.FINDING_COUNTERSIGN: frozenset({Owner.THERAPIST}),
    Act.RED_FLAG_ESCALATE: CLINICAL,
    Act.RED_FLAG_CLOSE: CLINICAL,
    Act.INSTRUCTION_GIVE: CLINICAL,
    Act.INSTRUCTION_CONFIRM: CLINICAL,
    Act.INSTRUCTION_WITHDRAW: CLINICAL,
    Act.REVIEW_SET: CLINICAL,
    Act.REVIEW_WITHDRAW: CLINICAL,
    Act.FOLLOW_UP_COMPLETE: CLINICAL,
    Act.APPOINTMENT_BOOK: ANYBODY,
    Act.APPOINTMENT_MOVE: ANYBODY,
    Act.APPOINTMENT_END: ANYBODY,
    Act.APPOINTMENT_TELL: ANYBODY,
    Act.APPOINTMENT_ARRIVE: ANYBODY,
    Act.APPOINTMENT_UNDO: ANYBODY,
    Act.APPOINTMENT_WALK_IN: CLINICAL,
    Act.SLOTS_HOLD: ANYBODY,
    Act.WEEK_SAVE: LEAD,
    Act.SESSION_ADD: OFFICE,
    Act.SESSION_CHANGE: OFFICE,
    Act.SESSIONS_LOSE: OFFICE,
    Act.SESSIONS_MAKE: LEAD,
    Act.ABSENCE_ADD: OFFICE,
    Act.ABSENCE_END: OFFICE,
    Act.FEED_MAKE: frozenset({Owner.THERAPIST}),
    Act.FEED_REVOKE: frozenset({Owner.THERAPIST}),
    Act.CONTACT_LOG: ANYBODY,
    Act.NOTICE_SEND: frozenset({Owner.LEAD}),
    Act.NOTICE_CALL: ANYBODY,
    Act.NOTICE_WITHDRAW: OFFICE,
    Act.REFERRER_WRITE: ANYBODY,
    Act.LETTERS_PRINT: OFFICE,
    Act.LETTERS_POST: OFFICE,
    Act.INTAKE_UPLOAD: OFFICE,
    Act.INTAKE_CONFIRM: OFFICE,
    Act.CLOSURE_ADD: OFFICE,
    Act.CLOSURE_REMOVE: OFFICE,
    Act.LIST_EXPORT: ANYBODY,
    Act.PLAN_SHEET_MAKE: ANYBODY,
    Act.JOB_CANCEL: ANYBODY,
    Act.WAITS_READ: LEAD,
    Act.MONTH_FILE: LEAD,
    Act.DIARY_FILL: OFFICE,
    Act.PATIENT_OPEN: ANYBODY,
    Act.PATIENT_FILE: LEAD,
    Act.RECORD_KEEP: LEAD,
    Act.RECORD_REMOVE: LEAD,
    Act.TRAIL_READ: LEAD,
    Act.RULES_CHANGE: LEAD,
    Act.RULES_SIGN: LEAD,
    Act.RULES_WITHDRAW: LEAD,
    Act.PERSON_INVITE: LEAD,
    Act.PERSON_CHANGE: LEAD,
    Act.PERSON_RESET: LEAD,
    Act.SIGN_IN: ANYBODY,
    Act.SIGN_IN_REFUSED: ANYBODY,
    Act.SIGN_OUT: ANYBODY,
    Act.PASSWORD_CHANGE: ANYBODY,
    Act.SECOND_FACTOR_CHANGE: ANYBODY,
    Act.SESSION_END: ANYBODY,
}


def may(roles: Set[Owner], act: Act) -> bool:
    return not ALLOWED[act].isdisjoint(roles)


def demand(roles: Set[Owner], act: Act) -> None:
    """Raise Refusal `not-allowed` naming who may, unless one of `roles` may."""
    if not may(roles, act):
        raise not_allowed(ALLOWED[act])


def not_allowed(able: Set[Owner]) -> Refusal:
    """What somebody is told who holds none of these roles."""
    return Refusal("not-allowed", f"This needs the role of {' or '.join(sorted(able))}. Ask a colleague who holds it.")
