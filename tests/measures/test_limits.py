"""What is asked back, and what is refused. The limits are for the clinic to agree to (judgement)."""

from datetime import date

import pytest

from caseload.errors import Refusal
from caseload.measures.bodies import Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.limits import Doubt, doubts, refuse_impossible
from caseload.measures.terms import InfectionKind, Joint, TriggerScale
from caseload.timetable.terms import Digit
from tests.measures.builders import bent, joints

DAY = date(2026, 4, 2)


@pytest.mark.parametrize("digit", list(Digit))
def test_what_is_usual_raises_no_doubt(digit):
    motion = bent((80, 100), (-30, 90)) if digit is Digit.THUMB else bent((110, 120, 100), (-30, 90, 0))
    infection = Infection(InfectionKind.DEEP, "amoxicillin", DAY, DAY)
    dash, grade = QuickDash((1, 5, None) + (3,) * 8), Trigger(TriggerScale.QUINNELL, "0")
    for body in (motion, infection, dash, grade, Grip((0, 90), (45.5,)), Swelling(30, 60), Pain(10)):
        assert doubts(body, digit) == ()
        refuse_impossible(body, digit)


@pytest.mark.parametrize(
    ("body", "fields"),
    [
        (bent((111, 121, 101), (0, 0, 0)), ["mcp_flexion", "pip_flexion", "dip_flexion"]),
        (bent((-1, 100, 60), (91, -31, 0)), ["mcp_flexion", "mcp_deficit", "pip_deficit"]),
        (bent((90, 100, 60), (0, 0, 0), other=130), ["other_mcp_flexion"]),
        (Motion({Joint.PIP: Reach(None, 95), Joint.DIP: Reach(101, None)}), ["pip_deficit", "dip_flexion"]),
        (Grip((20, 90.5), (95,)), ["grip_2", "grip_other_1"]),
        (Grip((), (20, 30, 91)), ["grip_other_3"]),
        (Swelling(29.9, 60.1), ["swelling_cm", "swelling_other_cm"]),
        (Swelling(None, 20), ["swelling_other_cm"]),
    ],
)
def test_unusual_values_are_asked_back_one_by_one(body, fields):
    assert [doubt.field for doubt in doubts(body, Digit.RING)] == fields
    refuse_impossible(body, Digit.RING)


def test_a_doubt_says_what_is_usual():
    assert doubts(bent((130, 0, 0), (0, 0, 0)), Digit.RING) == (Doubt("mcp_flexion", 130, 0, 110),)
    assert doubts(bent((85, 105), (0, 0)), Digit.THUMB) == (
        Doubt("mcp_flexion", 85, 0, 80),
        Doubt("ip_flexion", 105, 0, 100),
    )


@pytest.mark.parametrize(
    ("body", "field"),
    [
        (bent((181, 0, 0), (0, 0, 0)), "mcp_flexion"),
        (bent((0, -31, 0), (0, 0, 0)), "pip_flexion"),
        (bent((0, 0, 0), (0, 0, -91)), "dip_deficit"),
        (bent((0, 0, 0), (0, 181, 0)), "pip_deficit"),
        (Motion({}, joints((0, 0, 200), (0, 0, 0))), "other_dip_flexion"),
        (Motion({Joint.IP: Reach(30, 0)}), "ip_flexion"),
        (Pain(11), "pain"),
        (Pain(-1), "pain"),
        (Grip((20, 201)), "grip_2"),
        (Grip((20,), (-1,)), "grip_other_1"),
        (Grip((20, 21, 22, 23)), "grip_3"),
        (Grip((float("nan"),)), "grip_1"),
        (Swelling(0), "swelling_cm"),
        (Swelling(40, 101), "swelling_other_cm"),
        (QuickDash((1,) * 10 + (6,)), "dash_11"),
        (QuickDash((0,) + (1,) * 10), "dash_1"),
        (QuickDash((1,) * 10), "dash_1"),
        (Trigger(TriggerScale.GREEN, "3"), "trigger_grade"),
        (Infection(InfectionKind.DEEP, "amoxicillin", DAY, date(2026, 4, 1)), "antibiotic_until"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(body, field):
    with pytest.raises(Refusal) as refused:
        refuse_impossible(body, Digit.RING)
    assert (refused.value.code, refused.value.details["field"]) == ("impossible", field)


def test_a_limit_below_nought_is_said_with_a_minus():
    with pytest.raises(Refusal, match="outside \N{MINUS SIGN}30 to 180°"):
        refuse_impossible(bent((181, 0, 0), (0, 0, 0)), Digit.RING)


def test_what_may_just_be_is_not_refused():
    for body in (bent((180, -30, 0), (180, -90, 0)), Pain(0), Grip((0, 200)), Swelling(100, 0.1)):
        refuse_impossible(body, Digit.RING)


def test_a_thumb_has_no_pip():
    with pytest.raises(Refusal, match="no PIP joint"):
        refuse_impossible(Motion({Joint.PIP: Reach(30, 0)}), Digit.THUMB)


@pytest.mark.parametrize(
    "days", [(None, None), (DAY, None), (None, DAY), (DAY, DAY), (DAY, date(2026, 4, 9))]
)  # fmt: skip
def test_an_antibiotic_may_still_be_taken(days):
    refuse_impossible(Infection(InfectionKind.SUPERFICIAL, "amoxicillin", *days), Digit.RING)
