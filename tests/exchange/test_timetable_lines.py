"""A timetable as one JSON object: its fields, as of a day."""

import json
from typing import Any

import pytest

from caseload.exchange.timetable_lines import timetable_body
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Outcome
from tests.timetable.builders import TWO_WEEK, after, booked, day, episode, order, out_and_closed, plan, red_flag


def answer(facts: EpisodeFacts, on: int = 0) -> dict[str, Any]:
    """The object after a round through JSON, with reason codes for sentences."""
    today = after(on)
    body = timetable_body(facts, plan(facts, today), TWO_WEEK, today, lambda reason: reason.code)
    return json.loads(json.dumps(body))


def follow_up(facts: EpisodeFacts, on: int, kind: str = "stitches-out") -> dict[str, Any]:
    (found,) = (each for each in answer(facts, on)["follow_ups"] if each["kind"] == kind)
    return found


def test_the_fields_of_a_timetable() -> None:
    body = answer(episode(ref="a1"))
    assert list(body) == [
        "ref", "rules", "follow_ups", "activities", "safety_alert", "headline", "owner", "next_step", "marks",
    ]  # fmt: skip
    assert body["ref"] == "a1" and body["rules"] == {"name": "two-week", "version": "1"}
    assert (body["safety_alert"], body["headline"], body["owner"], body["marks"]) == (False, None, None, [])


def test_the_fields_of_a_follow_up() -> None:
    assert follow_up(episode(), 17) == {
        "kind": "stitches-out",
        "anchor_on": "2026-02-03",
        "earliest_on": "2026-02-15",
        "target_on": "2026-02-17",
        "latest_on": "2026-02-19",
        "proposed_on": "2026-02-17",
        "first_after_on": None,
        "provisional": False,
        "status": "late",
        "days_late": 1,
        "booking": "none",
        "minutes": 20,
        "why": ["rule-window", "rule-applies", "counted-surgery"],
    }


def test_a_follow_up_without_a_visit_has_no_minutes() -> None:
    assert follow_up(episode(), 0, "close")["minutes"] is None


def test_booking_and_first_day_after() -> None:
    facts = episode(appointments=(booked(after(14), outcome=Outcome.DID_NOT_ATTEND),))
    assert follow_up(facts, 15)["booking"] == "did-not-attend"
    assert follow_up(episode(day("2027-12-10")), 0)["first_after_on"] is None


def test_the_fields_of_an_activity() -> None:
    grip = next(each for each in answer(episode(), 13)["activities"] if each["kind"] == "tight-grip")
    assert grip == {
        "kind": "tight-grip",
        "from_on": "2026-02-17",
        "aim_on": None,
        "until_on": None,
        "locked": True,
        "locked_by": ["wound-closed", "day"],
        "provisional": False,
        "why": ["rule-day", "rule-applies", "counted-surgery", "wound-not-recorded"],
    }
    raised = next(each for each in answer(episode(), 0)["activities"] if each["kind"] == "hand-raised")
    assert (raised["until_on"], raised["locked"], raised["locked_by"]) == ("2026-02-06", False, [])
    work = next(each for each in answer(episode(), 0)["activities"] if each["kind"] == "handfree-work")
    assert (work["aim_on"], work["locked_by"]) == ("2026-02-05", ["day"])


def test_an_instruction_locks_by_name() -> None:
    facts = episode(instructions=(order("driving", locked=True),))
    driving = next(each for each in answer(facts, 30)["activities"] if each["kind"] == "driving")
    assert driving["locked_by"] == ["instruction"]


@pytest.mark.parametrize(
    ("on", "headline", "owner", "alert"), [(4, None, None, False), (22, "safety-alert", "lead", True)]
)
def test_headline_and_owner_are_as_of_the_day(on: int, headline: str, owner: str, alert: bool) -> None:
    body = answer(episode(), on)
    assert (body["headline"], body["owner"], body["safety_alert"]) == (headline, owner, alert)


def test_an_owner_changes_with_the_day() -> None:
    flagged = episode(findings=(red_flag(after(4)),))
    assert [answer(flagged, on)["owner"] for on in (4, 5)] == ["therapist", "lead"]


def test_the_next_step_is_never_in_the_past() -> None:
    assert answer(episode(), 0)["next_step"] == {"kind": "stitches-out", "on": "2026-02-17", "owner": "admin"}
    assert answer(episode(), 20)["next_step"]["on"] == "2026-02-23"
    assert answer(episode(None), 5)["next_step"] == {"kind": "missing-fact", "on": "2026-02-08", "owner": "admin"}
    assert answer(episode(closed_on=after(20)), 21)["next_step"] is None


def test_a_surgery_to_come_is_marked_as_planned() -> None:
    assert [answer(episode(), on)["marks"] for on in (-1, 0)] == [["planned"], []]


def test_sentences_are_made_by_whoever_asks() -> None:
    facts = episode(findings=out_and_closed(after(14)))
    body = timetable_body(facts, plan(facts), TWO_WEEK, after(14), lambda reason: f"{reason.code}!")
    assert body["follow_ups"][0]["why"][-1] == "done-removal!" and isinstance(Reason("x"), tuple)
