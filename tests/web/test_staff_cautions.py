"""Cautions on the pages of the staff where something can hurt somebody (common practice)."""

from datetime import date

import pytest
from django.test import Client

from caseload.actions import instructions
from tests.scenario import Fernhollow, by
from tests.web.visiting import preview

WORDS = (
    # Whose word counts.
    "the planner proposes, people decide", "local policy", "licensed practice", "come first",
    "nothing here is a treatment instruction",
    # Until the wound has closed.
    "no heavy lifting", "no tight gripping", "no stretching the finger passively", "the dressing stays clean and dry",
    # Help at once.
    "medical help at once", "a temperature above 38 °c", "discharge on the dressing that is new or has changed colour",
    "wound pain that is strong or growing", "chest pain or trouble breathing", "a fast pulse",
    "feeling faint or giddy", "spreading redness", "a finger held bent and painful to straighten", "new numbness",
    "a cold or blue finger", "a gaping wound",
    # What usually settles.
    "altered feeling around the wound and soreness usually settle within some weeks",
    "pain medicine: only as prescribed",
)  # fmt: skip


def address(clinic: Fernhollow, page: str) -> str:
    episode = clinic.episode()
    own = f"/episodes/{episode.code}/"
    if page == "move":
        return f"/appointments/{clinic.book([episode.follow_ups.first()], date(2026, 4, 2)).code}/move/"
    if page == "instruction-withdraw":
        given = instructions.give(
            episode, by=by(clinic.therapist), item="driving", by_whom="Dr Wren", why="swelling", from_day=9
        )
        return f"{own}instructions/{given.pk}/withdraw/"
    return own + page


@pytest.mark.parametrize(
    "page", ["", "visit/", "close/", "instructions/new/", "instruction-withdraw", "appointments/new/", "move"]
)
def test_no_caution_is_missing(clinic: Fernhollow, therapist: Client, page: str):
    answer = therapist.get(address(clinic, page))
    text = " ".join(answer.content.decode().split()).lower()
    assert answer.status_code == 200
    assert [words for words in WORDS if words not in text] == []


def test_nothing_says_that_days_open_a_gate(clinic: Fernhollow, therapist: Client):
    text = " ".join(therapist.get(address(clinic, "")).content.decode().split())
    assert "No passing of days opens a gate, only a finding." in text


def test_an_infection_beside_a_closed_wound_is_asked_back_before_gates_open(therapist: Client, clinic: Fernhollow):
    """Our own caution: the rules give an infection no effect on a gate, so a person has to."""
    visit = f"/episodes/{clinic.episode().code}/visit/"
    asked = preview(therapist, visit, d1_after="continue", d1_wound="closed", d1_infection="superficial")
    assert "What has to wait for the infection needs an instruction" in asked.context["doubts"][0]
    open_still = preview(therapist, visit, d1_after="continue", d1_wound="not-closed", d1_infection="superficial")
    assert open_still.context["doubts"] == []
