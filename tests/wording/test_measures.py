"""What was measured, in one line; what is asked back."""

from datetime import date

import pytest

from caseload.measures import limits
from caseload.measures.bodies import KIND_OF, Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.grades import grades_of
from caseload.measures.limits import Doubt, doubts
from caseload.measures.terms import InfectionKind, Joint, MeasureKind, Quantity, TriggerScale, Whole
from caseload.timetable.terms import Digit
from caseload.wording.measures import (
    _SAYINGS,
    GRADES,
    say_doubt,
    say_measured,
    say_note,
    say_quantity,
    say_reading,
    say_value,
)
from tests.measures.builders import bent
from tests.wording.test_waits import kept

SUPERFICIAL, DEEP = InfectionKind


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (bent((85, 100, 60), (0, 15, 10)), "TAM 220°, 84.6 % of 260°: good; Strickland 77 %: good"),
        (
            bent((85, 100, 60), (0, 15, 5), other=250),
            "TAM 225°, 90 % of the other hand's 250°: good; Strickland 80 %: good",
        ),
        (bent((90, 100, 69), (0, 0, 0)), "TAM 259°, 99.6 % of 260°: good; Strickland 97 %: excellent"),
        (bent((90, 100, 6), (0, 0, 0)), "TAM 196°, 75.4 % of 260°: good; Strickland 61 %: fair"),
        (bent((90, 100, 5), (0, 0, 0)), "TAM 195°, 75 % of 260°: fair; Strickland 60 %: fair"),
        (Motion({Joint.PIP: Reach(None, 15)}), "PIP lacks 15°; no TAM: not every joint measured"),
        (
            Motion({Joint.PIP: Reach(95, 15), Joint.DIP: Reach(60, -5)}),
            "PIP bends to 95°, lacks 15°; DIP bends to 60°, lacks −5°; no TAM: not every joint measured; "
            "Strickland 83 %: good",
        ),
        (Motion({}, {Joint.PIP: Reach(95, 0)}), "other hand only; no TAM: not every joint measured"),
        (Pain(3), "pain 3 of 10"),
        (Swelling(42.5), "figure of eight 42.5 cm"),
        (Swelling(42.5, 41.0), "figure of eight 42.5 cm, other hand 41 cm"),
        (Swelling(None, 41), "other hand 41 cm"),
        (Grip((24, 25, 24), (30, 30, 30)), "grip 24.3 kg, 81 % of the other hand"),
        (Grip((24,)), "grip 24.0 kg"),
        (Grip((), (30,)), "other hand 30.0 kg"),
        (QuickDash((3, 2, 4, 2, 3, 1, 2, 3, 3, 2, 4)), "QuickDASH 40.9"),
        (QuickDash((3,) * 9 + (None, None)), "QuickDASH: 2 answers missing, no score"),
        (Trigger(TriggerScale.GREEN, "III"), "Green III: locks, can be freed passively"),
        (Infection(SUPERFICIAL), "superficial infection"),
        (Infection(DEEP, "amoxicillin"), "deep or spreading infection, amoxicillin"),
        (
            Infection(SUPERFICIAL, "", date(2026, 4, 2), date(2026, 4, 9)),
            "superficial infection, antibiotic from Thu 2 Apr 2026 until Thu 9 Apr 2026",
        ),
    ],
)  # fmt: skip
def test_a_measure_says_what_follows_from_it(body, said):
    assert say_measured(body, Digit.RING) == kept(said)


def test_a_thumb_says_no_strickland():
    assert say_measured(bent((50, 70), (0, 5)), Digit.THUMB) == kept("TAM 115°, 88 % of 130°: good")


def test_where_the_digit_is_not_said_its_joints_say_whether_it_is_a_thumb():
    assert say_measured(bent((50, 70), (0, 5)), None) == kept("TAM 115°, 88 % of 130°: good")
    assert say_measured(bent((85, 100, 60), (0, 0, 0)), None).startswith(kept("TAM 245°, 94 % of 260°"))


def test_every_grade_has_words():
    assert {scale: tuple(words) for scale, words in GRADES.items()} == {
        scale: grades_of(scale) for scale in TriggerScale
    }


@pytest.mark.parametrize(
    ("doubt", "asked"),
    [
        (Doubt("mcp_flexion", 130, 0, 110), "130° of bending at the MCP joint lies outside 0–110°. Is that right?"),
        (
            Doubt("other_pip_deficit", -40, -30, 90),
            "−40° missing to straight at the PIP joint of the other hand lies outside −30 to 90°. Is that right?",
        ),
        (Doubt("grip_other_2", 95.5, 0, 90), "A grip of 95.5 kg lies outside 0–90 kg. Is that right?"),
        (Doubt("swelling_cm", 70, 30, 60), "70 cm round the hand lies outside 30–60 cm. Is that right?"),
    ],
)
def test_a_doubt_is_a_question(doubt, asked):
    assert say_doubt(doubt) == asked


def test_every_doubt_there_can_be_has_words():
    unusual = bent((130, 130, 130), (95, 95, 95)), Grip((95,), (95,)), Swelling(20, 20)
    asked = [doubt for body in unusual for doubt in doubts(body, Digit.RING)]
    assert all("Is that right?" in say_doubt(doubt) for doubt in asked) and len(asked) == 10
    assert {type(body) for body in unusual} == limits._USUAL.keys(), "one of each kind that has limits"


def test_every_kind_is_said_in_a_line():
    assert _SAYINGS.keys() == KIND_OF.keys()


@pytest.mark.parametrize(
    ("quantity", "value", "said"),
    [
        (Quantity.PAIN, 3, "3"), (Quantity.MOTION, 75.4, "75.4 %"), (Quantity.GRIP, 81.1, "81 %"),
        (Quantity.DISABILITY, 40.909, "40.9"),
    ],
)  # fmt: skip
def test_a_value_over_time_reads_as_in_its_line(quantity, value, said):
    assert say_value(quantity, value) == kept(said)


def test_what_may_mean_little_is_said_of_quickdash():
    assert "fewer than about 14 points" in say_note(MeasureKind.QUICKDASH)
    assert say_note(MeasureKind.PAIN) == ""


def test_every_course_says_how_it_is_read():
    assert {say_reading(quantity, whole) for quantity in Quantity for whole in Whole} >= {
        "0 to 10, less is better", "% of the usual, more is better", "% of the other hand's, more is better",
    }  # fmt: skip
    assert all(say_quantity(quantity) for quantity in Quantity)
