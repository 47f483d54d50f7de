"""What was found and what was done, in words: findings, and the entries of the trail."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.access import Act
from caseload.booking.slots import clock
from caseload.measures.bodies import read
from caseload.measures.terms import MeasureKind
from caseload.models import Episode, Finding, Instruction
from caseload.timetable.terms import ActivityKind, Digit, FindingKind, FollowUpKind, Owner, Side, WoundState
from caseload.wording.dates import say_date, say_days
from caseload.wording.labels import label
from caseload.wording.measures import say_measured

NOTHING = "–"


def say_found(row: Finding) -> str:
    """What a finding says: “4 stitches out, none left”, “Wound closed”, “Red flag: spreading redness”."""
    kind = FindingKind(row.kind)
    if kind is FindingKind.STITCHES:
        return _say_stitches(row.stitches_out or 0, row.stitches_left or 0)
    if kind is FindingKind.WOUND:
        return _("Wound %(state)s") % {"state": label(WoundState(row.wound))}
    return label(kind)


def _say_stitches(out: int, left: int) -> str:
    taken = ngettext("%(count)d stitch out", "%(count)d stitches out", out) % {"count": out}
    return f"{taken}, {_('%(left)d left') % {'left': left} if left else _('none left')}"


def say_instruction(row: Instruction) -> str:
    """What was ordered: “Stitches out: day 16 to 21, best on day 18”, “Driving: from day 9”, “Driving: locked”."""
    follow_up = row.item in list(FollowUpKind)
    item = label(FollowUpKind(row.item) if follow_up else ActivityKind(row.item))
    if row.locked:
        return _("%(item)s: locked") % {"item": item}
    if row.from_day is not None:
        return _("%(item)s: from day %(day)d after surgery") % {"item": item, "day": row.from_day}
    said = {"item": item, "first": row.earliest, "best": row.target, "last": row.latest}
    return _("%(item)s: day %(first)s to %(last)s after surgery, best on day %(best)s") % said


def say_hand(episode: Episode) -> str:
    """Which hand and finger: “right ring finger”; what is not known is said."""
    side = label(Side(episode.side)) if episode.side else _("hand not known,")
    return f"{side} {label(Digit(episode.digit)) if episode.digit else _('finger not known')}"


def say_flag_since(on: date, today: date, owner: Owner) -> str:
    """Since when a red flag is open and whose it is: “Open since yesterday: the lead therapist's now.”"""
    if on == today:
        return _("Open since today: the %(owner)s's today, from tomorrow the %(lead)s's.") % {
            "owner": label(owner), "lead": label(Owner.LEAD),
        }  # fmt: skip
    days = (today - on).days
    since = _("yesterday") if days == 1 else f"{say_date(on)}, {say_days(days)}"
    return _("Open since %(since)s: the %(owner)s's now.") % {"since": since, "owner": label(owner)}


ACTS: Final[Mapping[str, str | Promise]] = {
    Act.PATIENT_ADD: lazy("patient added"),
    Act.PATIENT_CORRECT: lazy("patient corrected"),
    Act.REFERRAL_ADD: lazy("referral added"),
    Act.REFERRAL_CORRECT: lazy("referral corrected"),
    Act.EPISODE_OPEN: lazy("episode opened"),
    Act.EPISODE_CORRECT: lazy("facts corrected"),
    Act.EPISODE_CLOSE: lazy("episode closed"),
    Act.EPISODE_REOPEN: lazy("episode open again"),
    Act.EPISODE_REOPERATE: lazy("operated on again"),
    Act.EPISODE_MOVE_RULES: lazy("moved to another version of the rules"),
    Act.EPISODES_REDERIVE: lazy("dates worked out again"),
    Act.VISIT_RECORD: lazy("visit recorded"),
    Act.VISIT_WITHDRAW: lazy("visit withdrawn"),
    Act.MEASUREMENT_CORRECT: lazy("measurement corrected"),
    Act.FINDING_RECORD: lazy("finding recorded"),
    Act.FINDING_CORRECT: lazy("finding corrected"),
    Act.FINDING_COUNTERSIGN: lazy("finding countersigned"),
    Act.RED_FLAG_ESCALATE: lazy("red flag escalated"),
    Act.RED_FLAG_CLOSE: lazy("red flag closed"),
    Act.INSTRUCTION_GIVE: lazy("instruction added"),
    Act.INSTRUCTION_CONFIRM: lazy("instruction confirmed"),
    Act.INSTRUCTION_WITHDRAW: lazy("instruction withdrawn"),
    Act.REVIEW_SET: lazy("review set"),
    Act.REVIEW_WITHDRAW: lazy("review withdrawn"),
    Act.FOLLOW_UP_COMPLETE: lazy("follow-up done"),
    Act.APPOINTMENT_BOOK: lazy("appointment booked"),
    Act.APPOINTMENT_MOVE: lazy("appointment moved"),
    Act.APPOINTMENT_ARRIVE: lazy("patient arrived"),
    Act.APPOINTMENT_UNDO: lazy("appointment taken back"),
    Act.APPOINTMENT_WALK_IN: lazy("seen without an appointment"),
    Act.SLOTS_HOLD: lazy("slots held back or released"),
    Act.WEEK_SAVE: lazy("week of sessions saved"),
    Act.SESSION_ADD: lazy("session added"),
    Act.SESSION_CHANGE: lazy("session changed"),
    Act.SESSIONS_LOSE: lazy("session called off"),
    Act.SESSIONS_MAKE: lazy("sessions made"),
    Act.ABSENCE_ADD: lazy("absence added"),
    Act.ABSENCE_END: lazy("absence ended"),
    Act.FEED_MAKE: lazy("calendar address made"),
    Act.FEED_REVOKE: lazy("calendar address withdrawn"),
    Act.APPOINTMENT_END: lazy("outcome of an appointment recorded"),
    Act.APPOINTMENT_TELL: lazy("recorded whether the patient knows"),
    Act.CONTACT_LOG: lazy("call or message logged"),
    Act.NOTICE_SEND: lazy("notice sent"),
    Act.NOTICE_CALL: lazy("rung about an appointment"),
    Act.NOTICE_WITHDRAW: lazy("notice withdrawn"),
    Act.REFERRER_WRITE: lazy("letter to the referrer"),
    Act.LETTERS_PRINT: lazy("letters printed"),
    Act.LETTERS_POST: lazy("letters posted"),
    Act.INTAKE_UPLOAD: lazy("theatre list read"),
    Act.INTAKE_CONFIRM: lazy("taken in from a theatre list"),
    Act.CLOSURE_ADD: lazy("closed days added"),
    Act.CLOSURE_REMOVE: lazy("closed days taken out"),
    Act.LIST_EXPORT: lazy("list taken away as a file"),
    Act.PLAN_SHEET_MAKE: lazy("plan sheet made"),
    Act.JOB_CANCEL: lazy("work in progress cancelled"),
    Act.WAITS_READ: lazy("waits looked at"),
    Act.MONTH_FILE: lazy("month of waits filed"),
    Act.DIARY_FILL: lazy("diary filled by proposal"),
    Act.PATIENT_OPEN: lazy("opened with a reason"),
    Act.PATIENT_FILE: lazy("everything held taken away as a file"),
    Act.RECORD_KEEP: lazy("record kept beyond its time, or not any more"),
    Act.RECORD_REMOVE: lazy("record removed after its time"),
    Act.TRAIL_READ: lazy("trail looked at"),
    Act.RULES_CHANGE: lazy("change of rules proposed"),
    Act.RULES_SIGN: lazy("change of rules signed"),
    Act.RULES_WITHDRAW: lazy("change of rules withdrawn"),
    Act.PERSON_INVITE: lazy("person invited"),
    Act.PERSON_CHANGE: lazy("person changed"),
    Act.PERSON_RESET: lazy("sign-in of a person reset"),
    Act.SIGN_IN: lazy("signed in"),
    Act.SIGN_IN_REFUSED: lazy("sign-in refused"),
    Act.SIGN_OUT: lazy("signed out"),
    Act.PASSWORD_CHANGE: lazy("password changed"),
    Act.SECOND_FACTOR_CHANGE: lazy("second factor changed"),
    Act.SESSION_END: lazy("signed out from elsewhere"),
}
FIELDS: Final[Mapping[str, str | Promise]] = {
    "surgery_on": lazy("Surgery date"), "side": lazy("Hand"), "digit": lazy("Finger"), "technique": lazy("Technique"),
    "suture": lazy("Suture"), "stitches_in": lazy("Stitches put in"), "material": lazy("Material"),
    "surgeon": lazy("Surgeon"), "site": lazy("Site"), "therapist": lazy("Therapist"), "referral": lazy("Referral"),
    "for_therapy": lazy("Referred for therapy"), "risks": lazy("What may slow healing"),
    "raised_risk": lazy("Raised risk"), "dominant": lazy("Dominant hand"), "work": lazy("Work"),
    "notes": lazy("Notes"), "rules": lazy("Rules"), "ended_on": lazy("Ended on"), "ended_how": lazy("How it ended"),
    "received_by": lazy("Taken over by"), "arrived_on": lazy("Transferred in on"),
    "given": lazy("Given name"), "family": lazy("Family name"),
    "born_on": lazy("Birth date"), "phone": lazy("Telephone"), "email": lazy("E-mail"),
    "email_consent": lazy("Agrees to e-mail"),
    "postal_address": lazy("Postal address"),
    "language": lazy("Preferred language"), "interpreter": lazy("Needs an interpreter"),
    "dressing_allergy": lazy("Dressing allergy"), "nhs-number": lazy("NHS number"),
    "hospital-number": lazy("Hospital number"), "received_on": lazy("Received on"), "source": lazy("From"),
    "priority": lazy("Priority"), "reason": lazy("Why"), "on": lazy("Day"), "for": lazy("For"),
    "outcome": lazy("Outcome"), "ended_why": lazy("Why it ended"), "told": lazy("Told"),
    "item": lazy("Instruction about"), "confirmed_for": lazy("Holds for the surgery of"), "reached": lazy("Reached"),
    "weekday": lazy("Weekday"), "start_minute": lazy("From"), "end_minute": lazy("Until"), "takes": lazy("Takes"),
    "ways": lazy("How people are seen"),
    "starts_on": lazy("First day"), "ends_on": lazy("Last day"), "sessions": lazy("Sessions"),
    "lost_why": lazy("Why it is called off"), "changed": lazy("Differs from its week"),
    "minutes": lazy("Minutes"), "way": lazy("How"), "interpreter_told": lazy("Interpreter told"),
    "approved_by": lazy("Earlier day approved by"), "approved_why": lazy("Why earlier"),
    "held_why": lazy("Held back for"), "after": lazy("What next"), "started": lazy("Begun"),
    "taught": lazy("Taught"), "measured": lazy("Measured"),
    "withdrawn_why": lazy("Why withdrawn"), "reopened_why": lazy("Why open again"),
    "letters": lazy("Letters"), "escalated_to": lazy("Escalated to"),
    "month": lazy("Month"), "keep_why": lazy("Why it is kept"), "keep_until_on": lazy("Kept until"),
    "record": lazy("Record"), "rows": lazy("Rows"), "name": lazy("Name"), "username": lazy("Signs in as"),
    "is_therapist": lazy("Therapist"), "is_admin": lazy("Booking admin"), "is_lead": lazy("Lead therapist"),
    "is_active": lazy("Works here"), "password": lazy("Password"), "second_factor": lazy("Second factor"),
}  # fmt: skip
UNSAID: Final = frozenset({
    "headline", "live", "untold_since_on", "search_key", "phone_key", "session", "session_id", "site_id", "sequence",
    "changed_at", "arrived_at",
})  # fmt: skip
"""Columns that say again what the others, or the act itself, say."""
MINUTES_OF_THE_DAY: Final = frozenset({"start_minute", "end_minute"})
_DAY: Final = re.compile(r"\b\d{4}-\d\d-\d\d\b")
_KEY: Final = re.compile(r"\b(" + "|".join(FollowUpKind) + r")\b(:[fr]\d+)?")


def say_act(act: str) -> str:
    return str(ACTS.get(act, act))


def say_reason(why: str) -> str:
    """The reason that somebody gave: “Reason: on call tonight”."""
    return _("Reason: %(why)s") % {"why": why}


def say_change(field: str, was: object, now: object) -> str:
    """One change of a trail entry: “Surgery date: Fri 20 Mar 2026 → Mon 23 Mar 2026”; empty for what needs no words."""
    if field in UNSAID:
        return ""
    if field in list(MeasureKind):
        return _say_measure(MeasureKind(field), was, now)
    name = str(FIELDS[field]) if field in FIELDS else _KEY.sub(_kind, field)
    if field in MINUTES_OF_THE_DAY:
        was, now = (clock(value) if isinstance(value, int) else value for value in (was, now))
    if was in (None, "", []):
        return f"{name}: {_value(now)}"
    return f"{name}: {_value(was)} → {_value(now)}"


def _say_measure(kind: MeasureKind, was: object, now: object) -> str:
    """A measurement that was said again, or withdrawn."""
    said = (say_measured(read(kind, value)) if isinstance(value, dict) else NOTHING for value in (was, now))
    return f"{label(kind)}: {' → '.join(said)}"


def _value(value: object) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list):
        return ", ".join(map(str, value)) or NOTHING
    said = str(value if value not in (None, "") else NOTHING).replace("..", " to ").replace(", proposed None", "")
    return _KEY.sub(_kind, _DAY.sub(lambda found: say_date(date.fromisoformat(found[0])), said))


def _kind(found: re.Match[str]) -> str:
    return label(FollowUpKind(found[1]))
