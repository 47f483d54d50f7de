"""Each reason as a sentence: read them aloud; a therapist should be able to say them."""

from datetime import date

import pytest
from django.utils import translation

from caseload.timetable.plan import Reason
from caseload.timetable.terms import Anchor, Ending, FollowUpKind, Lock, Source, Suture, Technique, WoundState
from caseload.wording import sentence
from caseload.wording.reasons import PLAIN, VARYING

ON, LATER = date(2026, 4, 2), date(2026, 4, 7)
RULES = ("Two weeks", "1")
OUT, CLOSED, SURGERY = Anchor.STITCHES_OUT, Anchor.WOUND_CLOSED, Anchor.SURGERY

SENTENCES = [
    (
        "rule-window",
        (*RULES, FollowUpKind.STITCHES_OUT, 12, 14, 16, SURGERY),
        "Rules “Two weeks”, version 1: 12 to 16 days after surgery, best on day 14.",
    ),
    (
        "rule-day",
        (*RULES, "scar-massage", 1, OUT, 2, None),
        "Rules “Two weeks”, version 1: from 1 day after the stitches are fully out, best from day 2.",
    ),
    (
        "rule-day",
        (*RULES, "hand-raised", 0, SURGERY, None, 3),
        "Rules “Two weeks”, version 1: from the day of surgery, until day 3.",
    ),
    (
        "rule-day",
        (*RULES, "dressing-reduced", 2, SURGERY, 3, 5),
        "Rules “Two weeks”, version 1: from 2 days after surgery, best from day 3, until day 5.",
    ),
    ("rule-not-before", (14, SURGERY), "Never sooner than 14 days after surgery."),
    (
        "rule-applies",
        ((Suture.NON_ABSORBABLE, Suture.UNKNOWN), (), None, None),
        "This rule is for non-absorbable stitches or stitches not known.",
    ),
    (
        "rule-applies",
        ((Suture.NONE,), (Technique.PERCUTANEOUS,), True, True),
        "This rule is for no stitches and percutaneous release and a raised healing risk and a referral for therapy.",
    ),
    (
        "rule-applies",
        ((), (Technique.OPEN,), False, False),
        "This rule is for open release and no raised healing risk and no referral for therapy.",
    ),
    (
        "suture-unknown",
        (),
        "Nobody recorded which stitches were used, so no day for taking them out is made up; please ask.",
    ),
    (
        "suture-unnamed",
        (),
        "These rules do not name such stitches yet, so no day for taking them out is made up.",
    ),
    (
        "not-before-decides",
        (2, OUT, ON),
        "The latest condition decides: 2 days after the stitches are fully out is Thu 2 Apr 2026.",
    ),
    ("counted-surgery", (ON,), "Counted from surgery on Thu 2 Apr 2026."),
    (
        "counted-stitches-out",
        (ON, Source.REPORTED),
        "Counted from Thu 2 Apr 2026, when the stitches were fully out (reported by a clinician elsewhere).",
    ),
    (
        "counted-wound-closed",
        (ON, Source.SEEN),
        "Counted from Thu 2 Apr 2026, when the wound was recorded as closed (seen here).",
    ),
    (
        "counted-provisional",
        (OUT, ON, FollowUpKind.STITCHES_OUT, "proposed"),
        "The stitches are not recorded as fully out yet. "
        "Provisional: counted from Thu 2 Apr 2026, the day proposed for stitches out.",
    ),
    (
        "counted-provisional",
        (CLOSED, ON, FollowUpKind.WOUND_CHECK, "booked"),
        "The wound is not recorded as closed yet. "
        "Provisional: counted from Thu 2 Apr 2026, the day booked for wound check.",
    ),
    (
        "counted-provisional",
        (CLOSED, ON, FollowUpKind.WOUND_CHECK, "today"),
        "The wound is not recorded as closed yet. Provisional: counted from today, Thu 2 Apr 2026, at the earliest.",
    ),
    (
        "counted-provisional",
        (CLOSED, ON, FollowUpKind.WOUND_RECHECK, "first-after"),
        "The wound is not recorded as closed yet. "
        "Provisional: counted from Thu 2 Apr 2026, the first open day after the window for wound re-check.",
    ),
    (
        "counted-provisional",
        (OUT, ON, FollowUpKind.STITCHES_RECHECK, "target"),
        "The stitches are not recorded as fully out yet. "
        "Provisional: counted from Thu 2 Apr 2026, the day aimed at for stitches re-check.",
    ),
    (
        "counted-provisional",
        (OUT, ON, FollowUpKind.STITCHES_OUT, "done"),
        "The stitches are not recorded as fully out yet. "
        "Provisional: counted from Thu 2 Apr 2026, the day of stitches out.",
    ),
    (
        "after-partial",
        (ON, 2, 3),
        "On Thu 2 Apr 2026 some stitches stayed in (2 out, 3 left), so they are looked at again.",
    ),
    (
        "after-not-closed",
        (ON, WoundState.CONCERN, Source.PHOTO),
        "On Thu 2 Apr 2026 the wound was of concern (from a photo or video), so it is looked at again.",
    ),
    (
        "after-removal",
        (ON, Source.SEEN),
        "The stitches came out on Thu 2 Apr 2026, but nobody recorded the wound that day, so it is looked at.",
    ),
    (
        "after-report",
        (ON, Source.REPORTED),
        "On Thu 2 Apr 2026 the stitches were said to be out (reported by a clinician elsewhere), "
        "so somebody here looks at the wound.",
    ),
    ("after-trim-needed", (ON,), "Ends of stitches were marked for trimming on Thu 2 Apr 2026."),
    ("set-review", (ON, 10), "At the visit of Thu 2 Apr 2026 a review in 10 days was set."),
    (
        "moved",
        (date(2026, 4, 3), Reason("holiday", ("Good Friday",)), ON, 13, False),
        "Fri 3 Apr 2026 is a public holiday (Good Friday); "
        "the nearest open day inside the window is Thu 2 Apr 2026, day 13.",
    ),
    (
        "moved",
        (date(2026, 4, 6), Reason("closure", ("works",)), LATER, 15, True),
        "Mon 6 Apr 2026 is a day on which the clinic is closed (works); the nearest open day inside the window is "
        "Tue 7 Apr 2026, day 15. A day before was as near; the later is taken.",
    ),
    (
        "moved",
        (date(2026, 4, 6), Reason("closure", ("",)), LATER, 15, False),
        "Mon 6 Apr 2026 is a closed day; the nearest open day inside the window is Tue 7 Apr 2026, day 15.",
    ),
    (
        "moved",
        (date(2026, 4, 4), Reason("weekday", (5,)), ON, 12, False),
        "Sat 4 Apr 2026 is a Saturday; the nearest open day inside the window is Thu 2 Apr 2026, day 12.",
    ),
    (
        "moved",
        (date(2026, 4, 1), Reason("weekday", (2,)), ON, 12, False),
        "Wed 1 Apr 2026 is a Wednesday, when the clinic is closed; "
        "the nearest open day inside the window is Thu 2 Apr 2026, day 12.",
    ),
    (
        "moved",
        (date(2028, 1, 1), Reason("no-holiday-data", (ON, LATER)), date(2027, 12, 31), 13, False),
        "Sat 1 Jan 2028 is beyond the public holidays known so far; "
        "the nearest open day inside the window is Fri 31 Dec 2027, day 13.",
    ),
    (
        "no-open-day",
        (ON, LATER, date(2026, 4, 8)),
        "There is no open day from Thu 2 Apr 2026 to Tue 7 Apr 2026, so a person must decide. "
        "The first open day after it is Wed 8 Apr 2026.",
    ),
    (
        "no-open-day",
        (ON, LATER, None),
        "There is no open day from Thu 2 Apr 2026 to Tue 7 Apr 2026, so a person must decide.",
    ),
    (
        "beyond-holiday-data",
        (ON, LATER),
        "Public holidays are known from Thu 2 Apr 2026 to Tue 7 Apr 2026 only, "
        "so part of this window is not safe to book.",
    ),
    (
        "done-removal",
        (ON, Source.SEEN),
        "Done on Thu 2 Apr 2026, when the stitches were recorded as fully out (seen here).",
    ),
    ("done-checked", (ON,), "Done on Thu 2 Apr 2026, when the wound was looked at."),
    ("done-found", (ON,), "Done on Thu 2 Apr 2026, when the next finding was recorded."),
    ("done-entered", (ON,), "Done on Thu 2 Apr 2026, as entered."),
    ("replaced-by-recheck", (ON,), "Some stitches stayed in on Thu 2 Apr 2026, so a re-check takes its place."),
    (
        "counts-disagree",
        (4, 2),
        "4 stitches were put in and 2 counted out, so “none left” needs to be confirmed.",
    ),
    (
        "removal-not-vouched-for",
        (ON,),
        "The removal of Thu 2 Apr 2026 was not seen here: nothing opens until the wound is seen closed here "
        "or a therapist countersigns.",
    ),
    ("removal-not-recorded", (), "Locked: the stitches are not recorded as fully out."),
    ("stitches-still-in", (ON, 2), "Locked: on Thu 2 Apr 2026 stitches were still in (2 left)."),
    ("wound-not-recorded", (), "Locked: the wound is not recorded as closed."),
    ("wound-not-closed", (ON, WoundState.NOT_CLOSED), "Locked: on Thu 2 Apr 2026 the wound was not closed."),
    (
        "wound-held-by-stitches",
        (ON,),
        "Locked: on Thu 2 Apr 2026 the wound looked closed, but stitches still held it; it must be seen without them.",
    ),
    ("trim-pending", (ON,), "Ends of stitches marked for trimming on Thu 2 Apr 2026 are not recorded as trimmed."),
    (
        "ordered-window",
        ("Ms Vane", "tendon repaired", 10, 12, 14),
        "Ms Vane ordered: 10 to 14 days after surgery, best on day 12 (tendon repaired).",
    ),
    ("ordered-day", ("Ms Vane", "fragile", 28), "Ms Vane ordered: from day 28 after surgery (fragile)."),
    ("ordered-lock", ("Ms Vane", "fragile"), "Ms Vane ordered: not until further notice (fragile)."),
    (
        "ordered-unconfirmed",
        ("Ms Vane",),
        "The surgery date was corrected after Ms Vane ordered this; please have the order confirmed.",
    ),
    (
        "episode-closed",
        (ON, Ending.DISCHARGED),
        "Not needed any more: the episode was closed on Thu 2 Apr 2026 (discharged).",
    ),
    ("episode-closed", (ON, None), "Not needed any more: the episode was closed on Thu 2 Apr 2026."),
    (
        "other-digit",
        ("E12", LATER, (Lock.WOUND_CLOSED, Lock.INSTRUCTION)),
        "The other operated digit of this hand (E12) decides: not before Tue 7 Apr 2026; "
        "locked (the wound is not recorded as closed); locked (the surgeon's instruction).",
    ),
    (
        "other-digit",
        ("E12", None, (Lock.WOUND_CLOSED,)),
        "The other operated digit of this hand (E12) decides: locked (the wound is not recorded as closed).",
    ),
    (
        "other-digit",
        ("E12", LATER, ()),
        "The other operated digit of this hand (E12) decides: not before Tue 7 Apr 2026.",
    ),
]


@pytest.mark.parametrize(("code", "values", "said"), SENTENCES)
def test_a_reason_as_a_sentence(code: str, values: tuple[object, ...], said: str) -> None:
    assert sentence(Reason(code, values)) == said


def test_every_reason_with_words_is_read_here() -> None:
    assert {code for code, _, _ in SENTENCES} == {*PLAIN, *VARYING}


def test_a_code_without_words_is_a_fault() -> None:
    with pytest.raises(KeyError):
        sentence(Reason("because"))


def test_a_reason_with_too_few_values_is_a_fault() -> None:
    with pytest.raises(ValueError, match="shorter"):
        sentence(Reason("counted-surgery"))


def test_a_sentence_follows_the_language_in_use() -> None:
    reason = Reason("counted-surgery", (ON,))
    assert sentence(reason) == "Counted from surgery on Thu 2 Apr 2026."
    with translation.override("de"):
        assert sentence(reason).endswith("Do 2 Apr 2026.")
    assert sentence(reason) == "Counted from surgery on Thu 2 Apr 2026."
