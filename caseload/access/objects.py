"""Role × act × whose record it is about, as one table.

A record is somebody's *own*, *another's*, or *closed* (own, but the episode is over). An admin and a lead have every
patient for their own, so to them another's is as own; to somebody who is a therapist only, it is opened with a reason
first, after which it is their own for a while. Acts about no patient know no other object than their own.
"""

from collections.abc import Set
from enum import StrEnum
from typing import Final

from caseload.access.acts import Act
from caseload.access.roles import ALLOWED, OFFICE
from caseload.timetable.terms import Owner


class Whose(StrEnum):
    """Whose record an act is about, as the person who acts stands to it."""

    OWN = "own"
    OTHER = "other"
    CLOSED = "closed"


class Says(StrEnum):
    """What the policy says: yes; first give a reason; not any more, the episode is closed; not with this role."""

    YES = "yes"
    REASON = "reason"
    SHUT = "shut"
    NO = "no"


ABOUT_NO_PATIENT: Final = frozenset(
    {
        Act.EPISODES_REDERIVE, Act.SLOTS_HOLD, Act.WEEK_SAVE, Act.SESSION_ADD, Act.SESSION_CHANGE, Act.SESSIONS_MAKE,
        Act.ABSENCE_END, Act.FEED_MAKE, Act.FEED_REVOKE, Act.INTAKE_UPLOAD, Act.JOB_CANCEL, Act.WAITS_READ,
        Act.MONTH_FILE, Act.TRAIL_READ, Act.RULES_CHANGE, Act.RULES_SIGN, Act.RULES_WITHDRAW, Act.PERSON_INVITE,
        Act.PERSON_CHANGE, Act.PERSON_RESET, Act.SIGN_IN, Act.SIGN_IN_REFUSED, Act.SIGN_OUT, Act.PASSWORD_CHANGE,
        Act.SECOND_FACTOR_CHANGE, Act.SESSION_END,
    }
)  # fmt: skip
OF_AN_OPEN_EPISODE: Final = frozenset(
    {
        Act.EPISODE_CLOSE, Act.EPISODE_REOPERATE, Act.VISIT_RECORD, Act.FINDING_RECORD, Act.FINDING_CORRECT,
        Act.INSTRUCTION_GIVE, Act.REVIEW_SET, Act.FOLLOW_UP_COMPLETE, Act.APPOINTMENT_BOOK,
    }
)  # fmt: skip
"""What is refused of an episode that is closed."""
WITHOUT_A_REASON: Final = frozenset({Act.PATIENT_ADD, Act.PATIENT_OPEN})
"""Somebody new is nobody's yet; and to give a reason needs none."""


def _says(role: Owner, act: Act, whose: Whose) -> Says:
    if role not in ALLOWED[act]:
        return Says.NO
    if act in ABOUT_NO_PATIENT or whose is Whose.OWN:
        return Says.YES
    if whose is Whose.CLOSED:
        return Says.SHUT if act in OF_AN_OPEN_EPISODE else Says.YES
    return Says.YES if role in OFFICE or act in WITHOUT_A_REASON else Says.REASON


TABLE: Final = {(role, act, whose): _says(role, act, whose) for role in Owner for act in Act for whose in Whose}
_BEST: Final = (Says.YES, Says.REASON, Says.SHUT, Says.NO)


def says(roles: Set[Owner], act: Act, whose: Whose) -> Says:
    """What the policy says to somebody who holds these roles: the most that any of them may."""
    return min((TABLE[role, act, whose] for role in roles), key=_BEST.index, default=Says.NO)
