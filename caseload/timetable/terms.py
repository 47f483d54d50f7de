"""The words of the trade. Every state word of the planner is written once, here."""

from enum import StrEnum


class Side(StrEnum):
    LEFT = "left"
    RIGHT = "right"


class Digit(StrEnum):
    THUMB = "thumb"
    INDEX = "index"
    MIDDLE = "middle"
    RING = "ring"
    LITTLE = "little"


class Technique(StrEnum):
    OPEN = "open"
    PERCUTANEOUS = "percutaneous"


class Suture(StrEnum):
    NON_ABSORBABLE = "non-absorbable"
    ABSORBABLE = "absorbable"
    NONE = "none"
    UNKNOWN = "unknown"


class Source(StrEnum):
    """Where a finding comes from; only what was seen here opens a gate by itself."""

    SEEN = "seen"
    REPORTED = "reported"
    PHOTO = "photo"
    PATIENT = "patient"


class FindingKind(StrEnum):
    STITCHES = "stitches"
    WOUND = "wound"
    RED_FLAG = "red-flag"
    TRIM_NEEDED = "trim-needed"
    TRIMMED = "trimmed"


class WoundState(StrEnum):
    CLOSED = "closed"
    NOT_CLOSED = "not-closed"
    CONCERN = "concern"


class FollowUpKind(StrEnum):
    STITCHES_OUT = "stitches-out"
    WOUND_CHECK = "wound-check"
    STITCHES_RECHECK = "stitches-recheck"
    WOUND_RECHECK = "wound-recheck"
    THERAPY_REVIEW = "therapy-review"
    SET_REVIEW = "set-review"
    OUTCOME_REVIEW = "outcome-review"
    CLOSE = "close"


class ActivityKind(StrEnum):
    HAND_RAISED = "hand-raised"
    GENTLE_BENDING = "gentle-bending"
    LIGHT_TASKS = "light-tasks"
    COVERED_SHOWER = "covered-shower"
    DRESSING_REDUCED = "dressing-reduced"
    HANDFREE_WORK = "handfree-work"
    DRIVING = "driving"
    SCAR_MASSAGE = "scar-massage"
    PASSIVE_STRETCH = "passive-stretch"
    SOAKING = "soaking"
    TIGHT_GRIP = "tight-grip"
    HEAVY_LIFTING = "heavy-lifting"
    LIGHT_MANUAL_WORK = "light-manual-work"
    HEAVY_WORK = "heavy-work"


WHOLE_HAND = frozenset(
    {
        ActivityKind.HANDFREE_WORK,
        ActivityKind.DRIVING,
        ActivityKind.SOAKING,
        ActivityKind.TIGHT_GRIP,
        ActivityKind.HEAVY_LIFTING,
        ActivityKind.LIGHT_MANUAL_WORK,
        ActivityKind.HEAVY_WORK,
    }
)
"""Activities of the hand, not of a digit: the most restrictive open episode of that hand decides them."""


class Anchor(StrEnum):
    """What the days of a rule are counted from."""

    SURGERY = "surgery"
    STITCHES_OUT = "stitches-out"
    WOUND_CLOSED = "wound-closed"
    FINDING = "finding"
    VISIT = "visit"


class Lock(StrEnum):
    """What keeps an activity from being started."""

    WOUND_CLOSED = "wound-closed"
    STITCHES_OUT = "stitches-out"
    TRIMMED = "trimmed"
    INSTRUCTION = "instruction"
    DAY = "day"


class Status(StrEnum):
    """A follow-up on a date."""

    DONE = "done"
    NOT_NEEDED = "not-needed"
    AHEAD = "ahead"
    OPEN = "open"
    LATE = "late"


class Booking(StrEnum):
    """How a follow-up is booked on a date."""

    NONE = "none"
    INSIDE = "inside"
    OUTSIDE = "outside"
    NO_OUTCOME = "no-outcome"
    DID_NOT_ATTEND = "did-not-attend"


class Way(StrEnum):
    """How a visit takes place. Only in person can a wound be seen or a stitch be taken out."""

    IN_PERSON = "in-person"
    TELEPHONE = "telephone"
    VIDEO = "video"


class Outcome(StrEnum):
    """How an appointment ended."""

    ATTENDED = "attended"
    DID_NOT_ATTEND = "did-not-attend"
    CANCELLED_BY_PATIENT = "cancelled-by-patient"
    CANCELLED_BY_CLINIC = "cancelled-by-clinic"


class AfterVisit(StrEnum):
    """What is to happen after a visit; whoever records one says which."""

    CONTINUE = "continue"
    REVIEW = "review"
    REFER_BACK = "refer-back"
    DISCHARGE = "discharge"


class Owner(StrEnum):
    THERAPIST = "therapist"
    ADMIN = "admin"
    LEAD = "lead"


class Headline(StrEnum):
    """Why an episode needs somebody, most pressing first: the order here is the order of precedence."""

    RED_FLAG = "red-flag"
    SAFETY_ALERT = "safety-alert"
    NO_NEXT_STEP = "no-next-step"
    MISSING_FACT = "missing-fact"
    NO_OUTCOME = "no-outcome"
    NOT_REBOOKED = "not-rebooked"
    VISIT_UNBOOKED = "visit-unbooked"
    BOOKED_OUTSIDE = "booked-outside"
    TASK_LATE = "task-late"
    UNTOLD = "untold"


class Ending(StrEnum):
    """How an episode closed."""

    DISCHARGED = "discharged"
    TRANSFERRED = "transferred"
    REFERRED_BACK = "referred-back"
    REOPERATION = "reoperation"
    DIED = "died"
    NOT_DONE = "operation-not-done"


class Mark(StrEnum):
    """Something about a timetable that a reader must know."""

    BEYOND_HOLIDAY_DATA = "beyond-holiday-data"
    NO_OPEN_DAY = "no-open-day"
    SUTURE_UNKNOWN = "suture-unknown"
    PLANNED = "planned"
    INSTRUCTION_UNCONFIRMED = "instruction-unconfirmed"


class Change(StrEnum):
    """What became of a follow-up or an activity between two timetables."""

    ADDED = "added"
    DROPPED = "dropped"
    DONE = "done"
    MOVED = "moved"
    UNLOCKED = "unlocked"
    RELOCKED = "relocked"


def rank(headline: Headline) -> int:
    """Precedence of a headline: 0 is the most pressing."""
    return _RANKS[headline]


_RANKS = {headline: place for place, headline in enumerate(Headline)}
