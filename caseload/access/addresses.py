"""What each address of the pages is for: which act reading it is, which sending to it is, whose roles, what it holds.

One row for each named address; one without is answered to nobody. Reading is GET and HEAD, sending is POST. `LOOK` is
plain looking, for the roles of the row. Of several acts whoever may do one gets in, and the act itself asks once more.

What stands in the address decides what becomes of one that is not there (`missing`) and of somebody else's (`other`).
An episode that is closed is shown like any other; what is refused of it says `objects.OF_AN_OPEN_EPISODE`.
"""

from collections.abc import Set
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from caseload.access.acts import Act
from caseload.access.roles import ALLOWED, ANYBODY
from caseload.timetable.terms import Owner


class Thing(StrEnum):
    """What the code or key in an address names."""

    NONE = "none"
    PATIENT = "patient"
    EPISODE = "episode"
    REFERRAL = "referral"
    VISIT = "visit"
    APPOINTMENT = "appointment"
    NOTICE = "notice"
    JOB = "job"
    SESSION = "session"
    WEEK = "week"
    ABSENCE = "absence"
    CLOSURE = "closure"
    INTAKE = "intake"
    LETTERS = "letters"
    PLAN = "plan"
    RULES = "rules"
    MONTH = "month"
    STAFF = "staff"
    KEY = "key"
    OWN_KEY = "own-key"


OF_A_PATIENT: Final = frozenset(
    {Thing.PATIENT, Thing.EPISODE, Thing.REFERRAL, Thing.VISIT, Thing.APPOINTMENT, Thing.NOTICE}
)
"""Behind these stands the record of one patient."""
OF_A_PERSON: Final = frozenset({Thing.JOB, Thing.OWN_KEY})
"""These belong to one person of the staff; to others there are none. A lead sees every job, but not its file."""


class Answer(StrEnum):
    """What an address answers about something that is not there, or not one's own."""

    AS_OWN = "as-own"
    REASON = "reason"
    NOT_FOUND = "not-found"
    GONE = "gone"
    """Leads on, since a second press finds away what the first one took away."""


class Look(StrEnum):
    """Plain looking, which is no act."""

    LOOK = "look"


LOOK: Final = Look.LOOK
Asked = tuple[Act | Look, ...]


@dataclass(frozen=True, slots=True)
class Address:
    """A row. No `read` or no `send` means that the address does not answer to that; `public`: without signing in."""

    holds: Thing = Thing.NONE
    read: Asked = ()
    send: Asked = ()
    roles: frozenset[Owner] = ANYBODY
    public: bool = False
    missing: Answer = Answer.NOT_FOUND
    asks_why: bool = False

    @property
    def other(self) -> Answer:
        """What it answers to somebody whose object it is not. Where the reason is given, none is asked for first."""
        if self.holds in OF_A_PATIENT and not self.asks_why:
            return Answer.REASON
        return Answer.NOT_FOUND if self.holds in OF_A_PERSON else Answer.AS_OWN

    def asked(self, method: str) -> Asked:
        """What a method asks for; nothing where the address does not answer to it."""
        return self.read if method in ("GET", "HEAD") else self.send if method == "POST" else ()

    @property
    def methods(self) -> list[str]:
        return (["GET", "HEAD"] if self.read else []) + (["POST"] if self.send else [])

    def able(self, method: str) -> frozenset[Owner]:
        """The roles that get in with a method."""
        return frozenset().union(*(self.roles if each is LOOK else ALLOWED[each] for each in self.asked(method)))

    def admits(self, roles: Set[Owner], method: str) -> bool:
        return self.public or not self.able(method).isdisjoint(roles)


def _looked_at(holds: Thing = Thing.NONE, *send: Act | Look, roles: frozenset[Owner] = ANYBODY) -> Address:
    return Address(holds, (LOOK,), send, roles)


def _form(holds: Thing, *acts: Act) -> Address:
    """A form: reading it already needs the act, so that nobody types in vain."""
    return Address(holds, acts, acts)


def _press(holds: Thing, *acts: Act | Look, missing: Answer = Answer.NOT_FOUND) -> Address:
    return Address(holds, (), acts, missing=missing)


_PUBLIC: Final = {
    **{name: Address(read=(LOOK,), send=(LOOK,), public=True) for name in ("livez", "readyz", "metrics")},
    "feed-file": Address(Thing.KEY, read=(LOOK,), public=True),
}
_SIGN_IN: Final = {
    name: Address(read=(LOOK,), send=(LOOK,), public=True)
    for name in ("sign-in", "account_login", "mfa_authenticate", "mfa_login_webauthn", "forgotten")
} | {
    "set-password": Address(Thing.KEY, (LOOK,), (LOOK,), public=True),
    "sign-out": Address(send=(LOOK,), public=True),
}  # fmt: skip
_OWN_SIGN_IN: Final = {
    "unlock": _looked_at(Thing.NONE, LOOK),
    "mfa_index": _looked_at(),
    "account_reauthenticate": _looked_at(Thing.NONE, LOOK),
    "mfa_reauthenticate": _looked_at(Thing.NONE, LOOK),
    "mfa_reauthenticate_webauthn": _looked_at(Thing.NONE, LOOK),
    "account_change_password": _form(Thing.NONE, Act.PASSWORD_CHANGE),
    "account_set_password": _form(Thing.NONE, Act.PASSWORD_CHANGE),
    "second-factor": _looked_at(),
    **{
        name: _form(Thing.NONE, Act.SECOND_FACTOR_CHANGE)
        for name in ("mfa_activate_totp", "mfa_deactivate_totp", "mfa_add_webauthn", "mfa_generate_recovery_codes")
    },
    "mfa_remove_webauthn": _form(Thing.OWN_KEY, Act.SECOND_FACTOR_CHANGE),
    "mfa_view_recovery_codes": Address(read=(Act.SECOND_FACTOR_CHANGE,)),
    "usersessions_list": _looked_at(Thing.NONE, Act.SESSION_END),
}
_LISTS: Final = {
    "home": _looked_at(),
    "today": _looked_at(Thing.NONE, LOOK),
    "caseload": _looked_at(Thing.NONE, LOOK),
    "overdue": _looked_at(Thing.NONE, LOOK),
    "search": _looked_at(Thing.NONE, LOOK),
    "help": _looked_at(),
    "dates": _press(Thing.NONE, LOOK),
    "draft-throw-away": _press(Thing.NONE, LOOK),
    "to-book": _looked_at(Thing.NONE, LOOK),
    "to-book-visit": _looked_at(Thing.NONE, Act.APPOINTMENT_BOOK),
    "to-book-call": _press(Thing.NONE, Act.CONTACT_LOG),
    "to-book-told": _press(Thing.NONE, Act.APPOINTMENT_TELL),
    "to-book-open": _press(Thing.NONE, Act.APPOINTMENT_BOOK),
    "diary": _looked_at(Thing.NONE, Act.APPOINTMENT_MOVE, LOOK),
    "rehousing": _looked_at(Thing.NONE, Act.SESSIONS_LOSE),
    "notices": _looked_at(),
    "fill": _looked_at(Thing.NONE, Act.DIARY_FILL),
    "fill-plan": _looked_at(Thing.PLAN, Act.DIARY_FILL),
}
_RECORD: Final = {
    "patient-new": _form(Thing.NONE, Act.PATIENT_ADD),
    "patient": _looked_at(Thing.PATIENT),
    "patient-open": Address(Thing.PATIENT, (Act.PATIENT_OPEN,), (Act.PATIENT_OPEN,), asks_why=True),
    "patient-correct": _form(Thing.PATIENT, Act.PATIENT_CORRECT),
    "patient-contact": _form(Thing.PATIENT, Act.CONTACT_LOG),
    "patient-file": _form(Thing.PATIENT, Act.PATIENT_FILE),
    "patient-keep": _form(Thing.PATIENT, Act.RECORD_KEEP),
    "retention": _form(Thing.NONE, Act.RECORD_REMOVE),
    "referral-new": _form(Thing.PATIENT, Act.REFERRAL_ADD),
    "referral-correct": _form(Thing.REFERRAL, Act.REFERRAL_CORRECT),
    "episode-new": _form(Thing.PATIENT, Act.EPISODE_OPEN),
    "episode": _looked_at(Thing.EPISODE),
    "episode-correct": _form(Thing.EPISODE, Act.EPISODE_CORRECT),
    "episode-close": _form(Thing.EPISODE, Act.EPISODE_CLOSE),
    "episode-reopen": _form(Thing.EPISODE, Act.EPISODE_REOPEN),
    "contact-new": _form(Thing.EPISODE, Act.CONTACT_LOG),
    "plan-sheet": _looked_at(Thing.EPISODE),
    "plan-sheet-file": _press(Thing.EPISODE, Act.PLAN_SHEET_MAKE),
    "referrer-letter": _form(Thing.EPISODE, Act.REFERRER_WRITE),
}
_CARE: Final = {
    "visit-new": _form(Thing.EPISODE, Act.VISIT_RECORD),
    "appointment-visit": _form(Thing.APPOINTMENT, Act.VISIT_RECORD),
    "visit": _looked_at(Thing.VISIT),
    "visit-book": _press(Thing.VISIT, Act.APPOINTMENT_BOOK),
    "visit-withdraw": _form(Thing.VISIT, Act.VISIT_WITHDRAW),
    "measurement-correct": _form(Thing.VISIT, Act.MEASUREMENT_CORRECT),
    "measurement-withdraw": _form(Thing.VISIT, Act.MEASUREMENT_CORRECT),
    "finding-correct": _form(Thing.EPISODE, Act.FINDING_CORRECT),
    "finding-withdraw": _form(Thing.EPISODE, Act.FINDING_CORRECT),
    "finding-countersign": _press(Thing.EPISODE, Act.FINDING_COUNTERSIGN),
    "red-flag-escalate": _form(Thing.EPISODE, Act.RED_FLAG_ESCALATE),
    "red-flag-close": _form(Thing.EPISODE, Act.RED_FLAG_CLOSE),
    "instruction-new": _form(Thing.EPISODE, Act.INSTRUCTION_GIVE),
    "instruction-confirm": _form(Thing.EPISODE, Act.INSTRUCTION_CONFIRM),
    "instruction-withdraw": _form(Thing.EPISODE, Act.INSTRUCTION_WITHDRAW),
    "review-new": _form(Thing.EPISODE, Act.REVIEW_SET),
    "review-withdraw": _form(Thing.EPISODE, Act.REVIEW_WITHDRAW),
    "follow-up-done": _form(Thing.EPISODE, Act.FOLLOW_UP_COMPLETE),
}
_BOOKING: Final = {
    "appointment-new": _form(Thing.EPISODE, Act.APPOINTMENT_BOOK),
    "appointment-move": _form(Thing.APPOINTMENT, Act.APPOINTMENT_MOVE),
    "appointment-end": _form(Thing.APPOINTMENT, Act.APPOINTMENT_END),
    "appointment-tell": _form(Thing.APPOINTMENT, Act.APPOINTMENT_TELL),
    "appointment-arrive": _press(Thing.APPOINTMENT, Act.APPOINTMENT_ARRIVE),
    "appointment-undo": _press(Thing.APPOINTMENT, Act.APPOINTMENT_UNDO),
    "appointment-calendar": _looked_at(Thing.APPOINTMENT),
    "today-outcome": _press(Thing.APPOINTMENT, Act.APPOINTMENT_ARRIVE, Act.APPOINTMENT_END),
    "slot": _looked_at(Thing.SESSION, Act.APPOINTMENT_BOOK, Act.SLOTS_HOLD),
    "session-call-off": _form(Thing.SESSION, Act.SESSIONS_LOSE),
}
_NOTICES: Final = {
    "notice": _looked_at(Thing.NOTICE),
    "notice-rung": _press(Thing.NOTICE, Act.NOTICE_CALL),
    "notice-call": _form(Thing.NOTICE, Act.NOTICE_CALL),
    "notice-withdraw": _form(Thing.NOTICE, Act.NOTICE_WITHDRAW),
    "letters-print": _press(Thing.NONE, Act.LETTERS_PRINT),
    "letter-batch": Address(Thing.LETTERS, (Act.LETTERS_PRINT,)),
    "letters-posted": _press(Thing.LETTERS, Act.LETTERS_POST),
    "letters-put-back": _press(Thing.LETTERS, Act.LETTERS_POST, missing=Answer.GONE),
}
_ROOM: Final = {
    "sessions": Address(read=(Act.SESSION_ADD,)),
    "session-new": _form(Thing.NONE, Act.SESSION_ADD),
    "session-change": _form(Thing.SESSION, Act.SESSION_CHANGE),
    "session-hold-again": _press(Thing.SESSION, Act.SESSION_CHANGE),
    "week-new": _form(Thing.NONE, Act.WEEK_SAVE),
    "week": Address(Thing.WEEK, (Act.SESSION_ADD,)),
    "week-change": _form(Thing.WEEK, Act.WEEK_SAVE),
    "week-end": _form(Thing.WEEK, Act.WEEK_SAVE),
    "absence-new": _form(Thing.NONE, Act.ABSENCE_ADD),
    "absence-end": _form(Thing.ABSENCE, Act.ABSENCE_END),
    "closure-new": _form(Thing.NONE, Act.CLOSURE_ADD),
    "closure": Address(Thing.CLOSURE, (Act.CLOSURE_ADD,)),
    "closure-reopen": _press(Thing.CLOSURE, Act.CLOSURE_REMOVE),
}
_PEOPLE: Final = {
    "people": Address(read=(Act.PERSON_CHANGE,)),
    "person-new": _form(Thing.NONE, Act.PERSON_INVITE),
    "person": Address(Thing.STAFF, (Act.PERSON_CHANGE,)),
    "person-change": _form(Thing.STAFF, Act.PERSON_CHANGE),
    "person-leave": _form(Thing.STAFF, Act.PERSON_CHANGE),
    "person-take-back": _press(Thing.STAFF, Act.PERSON_CHANGE),
    "person-reset": _form(Thing.STAFF, Act.PERSON_RESET),
    "person-end-sessions": _press(Thing.STAFF, Act.PERSON_RESET),
}
_INTAKE: Final = {
    "intake": _form(Thing.NONE, Act.INTAKE_UPLOAD),
    "intake-list": Address(Thing.INTAKE, (Act.INTAKE_UPLOAD,)),
    "intake-columns": _form(Thing.INTAKE, Act.INTAKE_UPLOAD),
    "intake-answers": _press(Thing.INTAKE, Act.INTAKE_UPLOAD),
    "intake-confirm": _press(Thing.INTAKE, Act.INTAKE_CONFIRM),
    "intake-throw-away": _press(Thing.INTAKE, Act.INTAKE_UPLOAD, missing=Answer.GONE),
    "intake-refused": _press(Thing.INTAKE, Act.INTAKE_UPLOAD),
}
_OWN: Final = {
    "jobs": _looked_at(),
    "job": _looked_at(Thing.JOB),
    "job-file": _looked_at(Thing.JOB),
    "job-cancel": _press(Thing.JOB, Act.JOB_CANCEL),
    "feed": Address(read=(Act.FEED_MAKE,)),
    "feed-make": _press(Thing.NONE, Act.FEED_MAKE),
    "feed-revoke": _press(Thing.NONE, Act.FEED_REVOKE),
    "feed-initials": _press(Thing.NONE, Act.FEED_MAKE),
}
_WAITS: Final = {
    **{name: _form(Thing.NONE, Act.WAITS_READ) for name in ("waits", "wait-patients")},
    "filings": Address(read=(Act.WAITS_READ,), send=(Act.MONTH_FILE,)),
    "filing": Address(Thing.MONTH, (Act.WAITS_READ,)),
    "filing-report": Address(Thing.MONTH, (Act.WAITS_READ,)),
    "waits-report": Address(read=(Act.WAITS_READ,)),
    "need": Address(read=(Act.WAITS_READ,)),
    "trail": _form(Thing.NONE, Act.TRAIL_READ),
    "trail-check": _press(Thing.NONE, Act.TRAIL_READ),
}
_RULES: Final = {
    "rules": _looked_at(),
    "rules-compare": _looked_at(),
    "rule-change-new": _form(Thing.NONE, Act.RULES_CHANGE),
    "rule-change": _form(Thing.RULES, Act.RULES_CHANGE),
    "rule-change-effect": _press(Thing.RULES, Act.RULES_CHANGE),
    "rule-change-sign": _form(Thing.RULES, Act.RULES_SIGN),
    "rule-change-withdraw": _press(Thing.RULES, Act.RULES_WITHDRAW),
    "rules-move": _press(Thing.NONE, Act.EPISODE_MOVE_RULES),
    "episode-rules": _form(Thing.EPISODE, Act.EPISODE_MOVE_RULES),
}
ADDRESSES: Final[dict[str, Address]] = {
    **_PUBLIC, **_SIGN_IN, **_OWN_SIGN_IN, **_LISTS, **_RECORD, **_CARE, **_BOOKING, **_NOTICES, **_ROOM, **_PEOPLE,
    **_INTAKE, **_OWN, **_WAITS, **_RULES,
}  # fmt: skip
