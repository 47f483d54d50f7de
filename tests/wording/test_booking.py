"""Offers, faults and "no place" in words."""

import pytest

from caseload.booking.good import Fault
from caseload.timetable.plan import Reason
from caseload.wording import label
from caseload.wording.booking import NONE, OFFERED, say_fault, say_none, say_offer
from caseload.wording.labels import LABELS
from caseload.wording.speech import speech
from tests.booking.builders import NINE, OTHER, best, need, opening


@pytest.mark.parametrize(
    ("on", "therapist", "said"),
    [
        (0, 1, "target day, own therapist"),
        (2, None, "2 days after the target"),
        (-1, 1, "1 day before the target, own therapist"),
        (5, OTHER, "3 days after the last day, another therapist"),
        (-3, None, "1 day before the first day"),
    ],
)
def test_an_offer_says_why_it_is_one(on: int, therapist: int | None, said: str) -> None:
    (offer, *_) = best(need(therapist=therapist), opening(on), approved=True)
    assert say_offer(offer) == say_offer(offer, speech()) == said


def test_a_place_between_two_others_leaves_no_gap() -> None:
    assert say_offer(best(need(), opening(free=(NINE,)))[0]) == "target day, own therapist, leaves no gap"


@pytest.mark.parametrize("code", OFFERED)
def test_every_reason_of_an_offer_has_words(code: str) -> None:
    offer = best(need(), opening())[0]._replace(reasons=(Reason(code, (2,) if code.startswith("days") else ()),))
    said = say_offer(offer)
    assert said and "%" not in said and said[0].islower() | said[0].isdigit()


@pytest.mark.parametrize("fault", Fault)
def test_every_fault_has_a_sentence_and_a_label(fault: Fault) -> None:
    assert say_fault(fault).endswith(".") and label(fault) in LABELS[Fault].values()


@pytest.mark.parametrize("code", NONE)
def test_where_there_is_no_place_it_says_why_and_what_to_do(code: str) -> None:
    said = say_none(Reason(code))
    assert said.endswith(".") and ": " in said
