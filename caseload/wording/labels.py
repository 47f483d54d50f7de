"""Every state word of the trade as staff read it."""

from enum import StrEnum
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from caseload.access.people import Presence
from caseload.booking.good import Fault
from caseload.booking.notices import Channel, NoticeKind
from caseload.measures import terms as measures
from caseload.parsing import Priority, Risk, Scheme
from caseload.timetable import terms
from caseload.waits import terms as waits
from caseload.waits import verdicts

Words = dict[str, str | Promise]


def label(state: StrEnum) -> str:
    """A state in plain words. Words of different lists may be spelt alike, so the list decides."""
    return str(LABELS[type(state)][state.value])


def note(code: str) -> str:
    """The note of an activity rule: a code known here, or the clinic's own words as they stand."""
    return str(NOTES.get(code, code))


LABELS: Final[dict[type[StrEnum], Words]] = {
    Scheme: {"nhs-number": _("NHS number"), "hospital-number": _("hospital number")},
    Priority: {"routine": _("routine"), "urgent": _("urgent")},
    Risk: {
        "diabetes": _("diabetes"),
        "systemic-steroid": _("systemic steroid"),
        "inflammatory-arthritis": _("inflammatory arthritis"),
        "smoking": _("smoking"),
        "dialysis-or-transplant": _("dialysis or transplant"),
        "anticoagulant": _("anticoagulant"),
        "recent-steroid-injection": _("recent steroid injection"),
        "over-50-manual-work": _("age over 50 with manual work"),
    },
    terms.Side: {"left": _("left"), "right": _("right")},
    terms.Digit: {
        "thumb": _("thumb"),
        "index": _("index finger"),
        "middle": _("middle finger"),
        "ring": _("ring finger"),
        "little": _("little finger"),
    },
    terms.Technique: {"open": _("open release"), "percutaneous": _("percutaneous release")},
    terms.Suture: {
        "non-absorbable": _("non-absorbable stitches"),
        "absorbable": _("absorbable stitches"),
        "none": _("no stitches"),
        "unknown": _("stitches not known"),
    },
    terms.Way: {"in-person": _("in person"), "telephone": _("by telephone"), "video": _("by video")},
    terms.Source: {
        "seen": _("seen here"),
        "reported": _("reported by a clinician elsewhere"),
        "photo": _("from a photo or video"),
        "patient": _("the patient's word"),
    },
    terms.FindingKind: {
        "stitches": _("Stitches"),
        "wound": _("Wound"),
        "red-flag": _("Red flag"),
        "trim-needed": _("Ends to be trimmed"),
        "trimmed": _("Ends trimmed"),
    },
    terms.WoundState: {"closed": _("closed"), "not-closed": _("not closed"), "concern": _("of concern")},
    terms.FollowUpKind: {
        "stitches-out": _("Stitches out"),
        "wound-check": _("Wound check"),
        "stitches-recheck": _("Stitches re-check"),
        "wound-recheck": _("Wound re-check"),
        "therapy-review": _("First therapy review"),
        "set-review": _("Review as set"),
        "outcome-review": _("Outcome review"),
        "close": _("Close or refer on"),
    },
    terms.ActivityKind: {
        "hand-raised": _("Keep the hand raised"),
        "gentle-bending": _("Gentle bending"),
        "light-tasks": _("Light tasks"),
        "covered-shower": _("Shower with the hand covered"),
        "dressing-reduced": _("Smaller dressing"),
        "handfree-work": _("Work that does not need the hand"),
        "driving": _("Driving"),
        "scar-massage": _("Scar massage"),
        "passive-stretch": _("Passive stretch"),
        "soaking": _("Swimming and soaking"),
        "tight-grip": _("Tight grip"),
        "heavy-lifting": _("Heavy lifting"),
        "light-manual-work": _("Light manual work"),
        "heavy-work": _("Heavy, wet or dirty work"),
    },
    terms.Anchor: {
        "surgery": _("surgery"),
        "stitches-out": _("the stitches are fully out"),
        "wound-closed": _("the wound is recorded as closed"),
        "finding": _("the finding that asks for it"),
        "visit": _("that visit"),
    },
    terms.Lock: {
        "wound-closed": _("the wound is not recorded as closed"),
        "stitches-out": _("the stitches are not recorded as fully out"),
        "trimmed": _("the ends are not recorded as trimmed"),
        "instruction": _("the surgeon's instruction"),
        "day": _("its day has not come"),
    },
    terms.Status: {
        "done": _("done"),
        "not-needed": _("not needed"),
        "ahead": _("ahead"),
        "open": _("open"),
        "late": _("late"),
    },
    terms.Booking: {
        "none": _("nothing booked"),
        "inside": _("booked"),
        "outside": _("booked outside the window"),
        "no-outcome": _("day passed, no outcome"),
        "did-not-attend": _("did not attend"),
    },
    terms.Outcome: {
        "attended": _("attended"),
        "did-not-attend": _("did not attend"),
        "cancelled-by-patient": _("cancelled by the patient"),
        "cancelled-by-clinic": _("cancelled by the clinic"),
    },
    terms.AfterVisit: {
        "continue": _("continue as timetabled"),
        "review": _("review in some days"),
        "refer-back": _("refer back"),
        "discharge": _("discharge"),
    },
    Presence: {
        "invited": _("invited"),
        "active": _("active"),
        "without-password": _("has to choose a password"),
        "gone": _("no longer here"),
    },
    terms.Owner: {"therapist": _("therapist"), "admin": _("booking admin"), "lead": _("lead therapist")},
    terms.Headline: {
        "red-flag": _("Red flag open"),
        "safety-alert": _("Safety alert"),
        "no-next-step": _("No next step"),
        "missing-fact": _("Fact missing"),
        "no-outcome": _("No outcome recorded"),
        "not-rebooked": _("Not rebooked"),
        "visit-unbooked": _("Visit not booked"),
        "booked-outside": _("Booked outside the window"),
        "task-late": _("Task late"),
        "untold": _("Patient not told"),
    },
    terms.Ending: {
        "discharged": _("discharged"),
        "transferred": _("transferred"),
        "referred-back": _("referred back"),
        "reoperation": _("operated on again"),
        "died": _("died"),
        "operation-not-done": _("operation not done"),
    },
    terms.Mark: {
        "beyond-holiday-data": _("beyond the known holidays"),
        "no-open-day": _("no open day in the window"),
        "suture-unknown": _("stitches not known: please ask"),
        "planned": _("surgery still to come"),
        "instruction-unconfirmed": _("instruction to be confirmed"),
    },
    measures.MeasureKind: {
        "infection": _("Infection"),
        "pain": _("Pain"),
        "swelling": _("Swelling"),
        "motion": _("Motion"),
        "trigger": _("Trigger grade"),
        "grip": _("Grip"),
        "quickdash": _("QuickDASH"),
    },
    measures.Joint: {"mcp": _("MCP"), "pip": _("PIP"), "dip": _("DIP"), "ip": _("IP")},
    measures.TriggerScale: {"green": _("Green"), "quinnell": _("Quinnell")},
    measures.InfectionKind: {"superficial": _("superficial"), "deep": _("deep or spreading")},
    measures.Band: {"excellent": _("excellent"), "good": _("good"), "fair": _("fair"), "poor": _("poor")},
    Fault: {
        "outside-window": _("outside the window"),
        "too-short": _("too short"),
        "other-site": _("at another site"),
        "needs-in-person": _("must be in person"),
    },
    NoticeKind: {
        "booked": _("appointment booked"),
        "moved": _("appointment moved"),
        "cancelled": _("appointment cancelled"),
        "week-before": _("reminder a week before"),
        "days-before": _("reminder two days before"),
        "referrer": _("letter to the referrer"),
    },
    Channel: {"email": _("by e-mail"), "letter": _("by letter"), "call": _("by telephone")},
    waits.Clock: {
        "first-visit": _("Referral to first visit"),
        "first-visit-restarted": _("Referral to first visit, restarted after a missed visit"),
        "appointment-offered": _("Referral to appointment offered"),
        "stitches-out": _("Surgery to stitches out"),
        "stitches-out-slippage": _("Target day to stitches out"),
        "wound-closed": _("Surgery to wound closed"),
    },
    waits.End: {
        "waiting": _("still waiting"),
        "seen": _("seen"),
        "declined": _("declined by the patient"),
        "discharged-unseen": _("discharged unseen"),
        "did-not-attend": _("did not attend"),
        "completed": _("completed"),
        "discharged": _("discharged"),
        "referred-back": _("referred back"),
        "transferred": _("transferred"),
        "reoperation": _("operated on again"),
        "died": _("died"),
        "operation-not-done": _("operation not done"),
    },
    waits.Behind: {
        "all": _("everybody who waited"),
        "at-start": _("waiting when the period began"),
        "began": _("began to wait"),
        "waiting": _("still waiting at the end"),
        "seen": _("seen"),
        "seen-within": _("seen, and within the target"),
        "seen-late": _("seen, but not within the target"),
        "ended": _("ended otherwise"),
        "due": _("target day in the period"),
        "within": _("target day in the period, and seen by then"),
        "not-within": _("target day in the period, and not seen by then"),
        "early": _("stitches out before the window"),
        "inside": _("stitches out inside the window"),
        "late": _("stitches out after the window"),
        "overdue": _("stitches still in after the window"),
        "ahead": _("stitches still in, the window not over"),
        "ended-otherwise": _("ended before the stitches were out"),
    },
    verdicts.Verdict: {
        "better": _("better"),
        "worse": _("worse"),
        "same": _("the same"),
        "unsaid": _("cannot be said"),
    },
    verdicts.Measure: {
        "median": _("half"),
        "centile-92": _("92 in 100"),
        "within": _("within target"),
    },
    terms.Change: {
        "added": _("added"),
        "dropped": _("not needed any more"),
        "done": _("done"),
        "moved": _("moved"),
        "unlocked": _("unlocked"),
        "relocked": _("locked again"),
    },
}

NOTES: Final[Words] = {
    "hand-raised": _("Two to three days, above the heart when resting."),
    "gentle-bending": _("Joint by joint, then from hook to fist: 10 times, held for 5 seconds, 3 to 4 times a day."),
    "dressing-reduced": _("Usually on day 3, by day 5, as the operating team says."),
    "driving": _("Only in full control of the vehicle; ask the insurer."),
    "scar-massage": _("5 minutes, 3 times a day; gentle first, more pressure as pain settles."),
    "passive-stretch": _("Hold for 10 seconds, 10 times, 3 times a day."),
}
