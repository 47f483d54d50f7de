import pytest

from caseload.parsing import Priority, Risk, read_count, read_priority, read_risks, read_technique, read_yes_no
from caseload.timetable.terms import Technique


@pytest.mark.parametrize("text", ["yes", "Y", "TRUE", "1", "x", "\u2713"])
def test_yes(text):
    assert read_yes_no(text) is True


@pytest.mark.parametrize("text", ["no", "N", "false", "0", "None"])
def test_no(text):
    assert read_yes_no(text) is False


@pytest.mark.parametrize("text", ["", "maybe", "yes and no", "2", "?"])
def test_neither(text, refusal):
    assert refusal(read_yes_no, text).code == "answer-unknown"


@pytest.mark.parametrize("text, count", [("3", 3), (" 0 ", 0), ("3.0", 3), ("60", 60)])
def test_a_count(text, count):
    assert read_count(text, most=60) == count


@pytest.mark.parametrize(
    "text, code",
    [("61", "count-out-of-range"), ("three", "count-unreadable"), ("-1", "count-unreadable"),
     ("2.5", "count-unreadable"), ("", "count-unreadable"), ("\u0663", "count-unreadable"),
     ("9" * 10, "count-unreadable")],
)  # fmt: skip
def test_no_count(text, code, refusal):
    assert refusal(read_count, text, most=60).code == code


@pytest.mark.parametrize(
    "text, technique",
    [("open", Technique.OPEN), ("Open release", Technique.OPEN), ("perc", Technique.PERCUTANEOUS),
     ("Needle release", Technique.PERCUTANEOUS)],
)  # fmt: skip
def test_technique(text, technique):
    assert read_technique(text) is technique


@pytest.mark.parametrize("text", ["", "keyhole", "open or percutaneous"])
def test_no_technique(text, refusal):
    assert refusal(read_technique, text).code == "technique-unknown"


@pytest.mark.parametrize("text", ["urgent", "U", "yes"])
def test_urgent(text):
    assert read_priority(text) is Priority.URGENT


@pytest.mark.parametrize("text", ["routine", "r", "no"])
def test_routine(text):
    assert read_priority(text) is Priority.ROUTINE


def test_no_priority(refusal):
    assert refusal(read_priority, "soon").code == "priority-unknown"


@pytest.mark.parametrize("risk", Risk)
def test_each_risk_by_its_own_word(risk):
    assert read_risks(risk.value) == ((risk,), ())


def test_a_list_of_risks_each_once():
    known = (Risk.ARTHRITIS, Risk.ANTICOAGULANT, Risk.SMOKING)
    assert read_risks("none, RA / warfarin; Smoker\nsmoking + - ") == (known, ())


def test_no_diabetes_is_not_diabetes():
    assert read_risks("No diabetes, Diabetic") == ((Risk.DIABETES,), ("No diabetes",))
