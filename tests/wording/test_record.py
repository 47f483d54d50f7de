"""Findings, instructions and the entries of the trail in words."""

import pytest

from caseload.access import Act
from caseload.models import Episode, Finding, Instruction
from caseload.wording.record import say_act, say_change, say_found, say_hand, say_instruction


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (Finding(kind="stitches", stitches_out=4, stitches_left=0), "4 stitches out, none left"),
        (Finding(kind="stitches", stitches_out=1, stitches_left=3), "1 stitch out, 3 left"),
        (Finding(kind="wound", wound="not-closed"), "Wound not closed"),
        (Finding(kind="red-flag"), "Red flag"),
        (Finding(kind="trimmed"), "Ends trimmed"),
    ],
)
def test_a_finding_says_what_was_found(row: Finding, said: str):
    assert say_found(row) == said


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (Instruction(item="driving", locked=True), "Driving: locked"),
        (Instruction(item="driving", from_day=9), "Driving: from day 9 after surgery"),
        (
            Instruction(item="stitches-out", earliest=16, target=18, latest=21),
            "Stitches out: day 16 to 21 after surgery, best on day 18",
        ),
    ],
)
def test_an_instruction_says_what_was_ordered(row: Instruction, said: str):
    assert say_instruction(row) == said


def test_a_hand_that_is_not_known_says_so():
    assert say_hand(Episode(side="right", digit="ring")) == "right ring finger"
    assert say_hand(Episode()) == "hand not known, finger not known"


@pytest.mark.parametrize(
    ("field", "was", "now", "said"),
    [
        ("surgery_on", "2026-03-20", "2026-03-23", "Surgery date: Fri 20 Mar 2026 → Mon 23 Mar 2026"),
        ("raised_risk", False, True, "Raised risk: no → yes"),
        ("surgeon", "", "Dr Wren", "Surgeon: Dr Wren"),
        ("surgeon", "Dr Wren", "", "Surgeon: Dr Wren → –"),
        ("risks", ["diabetes"], [], "What may slow healing: diabetes → –"),
        ("for", "", "stitches-out, wound-recheck:f12", "For: Stitches out, Wound re-check"),
        ("wound-recheck:f12", "", "done 2026-04-07", "Wound re-check: done Tue 7 Apr 2026"),
        ("headline", "", "safety-alert from 2026-04-11", ""),
        ("a-column-of-tomorrow", 1, 2, "a-column-of-tomorrow: 1 → 2"),
    ],
)
def test_a_change_is_told_in_words(field: str, was: object, now: object, said: str):
    assert say_change(field, was, now) == said


@pytest.mark.parametrize("act", Act)
def test_every_act_has_words(act: Act):
    assert say_act(act) != act
