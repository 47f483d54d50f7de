"""What each act is in the terms of HL7 FHIR R4 AuditEvent, whose kinds of event are those of DICOM (PS3.15, PS3.16).

Decides the type, subtype and action of a row of the trail. What an act does to the record decides: adding is C, reading
and taking away R, changing U, deleting D, and what only runs something E. A correction adds a row and changes how the
record stands, so it is U; withdrawing deletes nothing here, so it is U too.
Source: HL7 FHIR R4 (4.0.1), AuditEvent, and its value sets audit-event-action, audit-event-outcome, audit-event-type,
audit-event-sub-type; DICOM PS3.16, CID 400 and 401. From memory.
"""

from enum import StrEnum
from typing import Final, NamedTuple

from caseload.access.acts import Act


class Action(StrEnum):
    """audit-event-action."""

    CREATE = "C"
    READ = "R"
    UPDATE = "U"
    DELETE = "D"
    EXECUTE = "E"


class Outcome(StrEnum):
    """audit-event-outcome."""

    SUCCESS = "0"
    MINOR_FAILURE = "4"


class Code(NamedTuple):
    """A code of the DICOM terminology and what it is called there."""

    code: str
    display: str


class Kind(NamedTuple):
    """How an act is told: type, action and, where there is one, the subtype."""

    type: Code
    action: Action
    subtype: Code | None = None
    outcome: Outcome = Outcome.SUCCESS


APPLICATION: Final = Code("110100", "Application Activity")
LOG_USED: Final = Code("110101", "Audit Log Used")
EXPORT: Final = Code("110106", "Export")
IMPORT: Final = Code("110107", "Import")
ORDER: Final = Code("110109", "Order Record")
RECORD: Final = Code("110110", "Patient Record")
QUERY: Final = Code("110112", "Query")
ALERT: Final = Code("110113", "Security Alert")
AUTHENTICATION: Final = Code("110114", "User Authentication")
LOGIN: Final = Code("110122", "Login")
LOGOUT: Final = Code("110123", "Logout")
OVERRIDE: Final = Code("110127", "Emergency Override Started")
ROLES_CHANGED: Final = Code("110136", "Security Roles Changed")
USER_CHANGED: Final = Code("110137", "User security Attributes Changed")

_C, _R, _U, _D, _E = Action

LOOKED: Final = Kind(RECORD, _R)
LISTED: Final = Kind(QUERY, _E)
TAKEN_AWAY: Final = Kind(EXPORT, _R)

KINDS: Final[dict[Act, Kind]] = {
    Act.PATIENT_ADD: Kind(RECORD, _C),
    Act.PATIENT_CORRECT: Kind(RECORD, _U),
    Act.REFERRAL_ADD: Kind(ORDER, _C),
    Act.REFERRAL_CORRECT: Kind(ORDER, _U),
    Act.EPISODE_OPEN: Kind(RECORD, _C),
    Act.EPISODE_CORRECT: Kind(RECORD, _U),
    Act.EPISODE_CLOSE: Kind(RECORD, _U),
    Act.EPISODE_REOPEN: Kind(RECORD, _U),
    Act.EPISODE_REOPERATE: Kind(RECORD, _U),
    Act.EPISODE_MOVE_RULES: Kind(RECORD, _U),
    Act.EPISODES_REDERIVE: Kind(RECORD, _U),
    Act.VISIT_RECORD: Kind(RECORD, _C),
    Act.VISIT_WITHDRAW: Kind(RECORD, _U),
    Act.MEASUREMENT_CORRECT: Kind(RECORD, _U),
    Act.FINDING_RECORD: Kind(RECORD, _C),
    Act.FINDING_CORRECT: Kind(RECORD, _U),
    Act.FINDING_COUNTERSIGN: Kind(RECORD, _U),
    Act.RED_FLAG_ESCALATE: Kind(RECORD, _U),
    Act.RED_FLAG_CLOSE: Kind(RECORD, _U),
    Act.INSTRUCTION_GIVE: Kind(RECORD, _C),
    Act.INSTRUCTION_CONFIRM: Kind(RECORD, _U),
    Act.INSTRUCTION_WITHDRAW: Kind(RECORD, _U),
    Act.REVIEW_SET: Kind(RECORD, _C),
    Act.REVIEW_WITHDRAW: Kind(RECORD, _U),
    Act.FOLLOW_UP_COMPLETE: Kind(RECORD, _U),
    Act.APPOINTMENT_BOOK: Kind(RECORD, _C),
    Act.APPOINTMENT_MOVE: Kind(RECORD, _U),
    Act.APPOINTMENT_END: Kind(RECORD, _U),
    Act.APPOINTMENT_TELL: Kind(RECORD, _U),
    Act.APPOINTMENT_ARRIVE: Kind(RECORD, _U),
    Act.APPOINTMENT_UNDO: Kind(RECORD, _U),
    Act.APPOINTMENT_WALK_IN: Kind(RECORD, _C),
    Act.SLOTS_HOLD: Kind(APPLICATION, _U),
    Act.WEEK_SAVE: Kind(APPLICATION, _U),
    Act.SESSION_ADD: Kind(APPLICATION, _C),
    Act.SESSION_CHANGE: Kind(APPLICATION, _U),
    Act.SESSIONS_LOSE: Kind(APPLICATION, _U),
    Act.SESSIONS_MAKE: Kind(APPLICATION, _C),
    Act.ABSENCE_ADD: Kind(APPLICATION, _C),
    Act.ABSENCE_END: Kind(APPLICATION, _U),
    Act.FEED_MAKE: Kind(APPLICATION, _C),
    Act.FEED_REVOKE: Kind(APPLICATION, _D),
    Act.CONTACT_LOG: Kind(RECORD, _C),
    Act.NOTICE_SEND: Kind(EXPORT, _R),
    Act.NOTICE_CALL: Kind(RECORD, _U),
    Act.NOTICE_WITHDRAW: Kind(RECORD, _U),
    Act.REFERRER_WRITE: Kind(RECORD, _C),
    Act.LETTERS_PRINT: Kind(EXPORT, _R),
    Act.LETTERS_POST: Kind(EXPORT, _R),
    Act.INTAKE_UPLOAD: Kind(IMPORT, _C),
    Act.INTAKE_CONFIRM: Kind(IMPORT, _C),
    Act.CLOSURE_ADD: Kind(APPLICATION, _C),
    Act.CLOSURE_REMOVE: Kind(APPLICATION, _D),
    Act.LIST_EXPORT: TAKEN_AWAY,
    Act.PLAN_SHEET_MAKE: TAKEN_AWAY,
    Act.JOB_CANCEL: Kind(APPLICATION, _E),
    Act.WAITS_READ: LISTED,
    Act.MONTH_FILE: Kind(APPLICATION, _C),
    Act.DIARY_FILL: Kind(APPLICATION, _E),
    Act.PATIENT_OPEN: Kind(ALERT, _R, OVERRIDE),
    Act.PATIENT_FILE: TAKEN_AWAY,
    Act.RECORD_KEEP: Kind(RECORD, _U),
    Act.RECORD_REMOVE: Kind(RECORD, _D),
    Act.TRAIL_READ: Kind(LOG_USED, _R),
    Act.RULES_CHANGE: Kind(APPLICATION, _C),
    Act.RULES_SIGN: Kind(APPLICATION, _U),
    Act.RULES_WITHDRAW: Kind(APPLICATION, _U),
    Act.PERSON_INVITE: Kind(ALERT, _C, USER_CHANGED),
    Act.PERSON_CHANGE: Kind(ALERT, _U, ROLES_CHANGED),
    Act.PERSON_RESET: Kind(ALERT, _U, USER_CHANGED),
    Act.SIGN_IN: Kind(AUTHENTICATION, _E, LOGIN),
    Act.SIGN_IN_REFUSED: Kind(AUTHENTICATION, _E, LOGIN, Outcome.MINOR_FAILURE),
    Act.SIGN_OUT: Kind(AUTHENTICATION, _E, LOGOUT),
    Act.PASSWORD_CHANGE: Kind(ALERT, _U, USER_CHANGED),
    Act.SECOND_FACTOR_CHANGE: Kind(ALERT, _U, USER_CHANGED),
    Act.SESSION_END: Kind(AUTHENTICATION, _E, LOGOUT),
}


def kind_of(act: str) -> Kind:
    """A row that an older or a newer release wrote may name an act that this one does not know."""
    return KINDS[Act(act)] if act in list(Act) else Kind(APPLICATION, Action.EXECUTE)


def kind_of_look(route: str, *, of_patient: bool, taken_away: bool) -> Kind:
    """A look at one patient's record, at a list of them, at the trail itself, or a list taken away as a file."""
    if route.startswith("trail"):
        return Kind(LOG_USED, Action.READ)
    if taken_away:
        return TAKEN_AWAY
    return LOOKED if of_patient else LISTED
