"""Episodes as JSON lines: defaults, the facts they become, and how a line is refused."""

import json
from typing import Any

import pytest

from caseload.errors import Refusal
from caseload.exchange.episode_lines import MOST_BYTES, read_episode
from caseload.timetable.facts import Appointment, Done, EpisodeFacts, Finding, Instruction, SetReview
from caseload.timetable.terms import (
    Digit,
    Ending,
    FindingKind,
    Outcome,
    Side,
    Source,
    Suture,
    Technique,
    WoundState,
)
from tests.exchange.said import episode_body
from tests.timetable.builders import day


def read(**body: Any) -> EpisodeFacts:
    return read_episode(json.dumps(body).encode())


def refused(**body: Any) -> str:
    with pytest.raises(Refusal) as refusal:
        read(**body)
    assert refusal.value.message.startswith(refusal.value.details["field"])
    return refusal.value.message


def refused_line(line: bytes) -> str:
    with pytest.raises(Refusal) as refusal:
        read_episode(line)
    return refusal.value.message


def test_an_empty_object_takes_the_first_or_empty_values() -> None:
    assert read() == EpisodeFacts(side=Side.LEFT, digit=Digit.THUMB)
    facts = read()
    assert (facts.suture, facts.technique, facts.surgery_on) == (Suture.UNKNOWN, Technique.OPEN, None)


def test_a_null_side_or_digit_is_a_missing_fact() -> None:
    facts = read(side=None, digit=None, suture=None, technique=None, findings=None)
    assert facts == EpisodeFacts() and facts.suture is Suture.UNKNOWN


def test_the_facts_of_an_episode() -> None:
    facts = read(
        ref="a1", surgery_on="2026-03-20", side="right", digit="ring", suture="absorbable", technique="percutaneous",
        raised_risk=True, therapy_referral=True, stitches_in=4, born_on="1960-05-01", recorded_on="2026-03-21",
        closed_on="2026-06-01", closed_as="discharged",
    )  # fmt: skip
    assert facts == EpisodeFacts(
        "a1", day("2026-03-20"), Side.RIGHT, Digit.RING, Suture.ABSORBABLE, Technique.PERCUTANEOUS, True, True, 4,
        day("1960-05-01"), day("2026-03-21"), closed_on=day("2026-06-01"), closed_as=Ending.DISCHARGED,
    )  # fmt: skip


def test_findings_with_their_kind_source_and_days() -> None:
    stitches, wound, flag, needed = read(
        findings=[
            {"on": "2026-04-02", "kind": "stitches", "out": 2, "left": 0, "confirmed_full": True, "ref": "s"},
            {"on": "2026-04-02", "kind": "wound", "state": "concern", "source": "photo", "recorded_on": "2026-04-03"},
            {"on": "2026-04-02", "kind": "red-flag", "source": "patient", "closed_on": None, "out": None},
            {"on": "2026-04-02", "kind": "trim-needed", "source": "reported", "countersigned_on": "2026-04-04"},
        ]
    ).findings
    on = day("2026-04-02")
    assert stitches == Finding("s", FindingKind.STITCHES, on, out=2, left=0, confirmed_full=True)
    assert (wound.state, wound.source, wound.recorded_on) == (WoundState.CONCERN, Source.PHOTO, day("2026-04-03"))
    assert (flag.ref, flag.kind, flag.source) == ("findings[2]", FindingKind.RED_FLAG, Source.PATIENT)
    assert (needed.kind, needed.countersigned_on) == (FindingKind.TRIM_NEEDED, day("2026-04-04"))


def test_reviews_instructions_appointments_and_entries() -> None:
    facts = read(
        reviews=[{"on": "2026-04-02", "in_days": 7, "minutes": 40}, {"on": "2026-04-09", "in_days": 1}],
        instructions=[
            {"item": "stitches-out", "earliest": 10, "target": 12, "latest": 14, "by": "Ms Vane", "why": "graft"},
            {"item": "driving", "from": 9, "confirmed": False},
            {"item": "soaking", "locked": True},
        ],
        appointments=[
            {"on": "2026-04-07", "serves": ["stitches-out", "wound-recheck:w1"], "outcome": "attended"},
            {
                "on": "2026-04-08",
                "serves": [],
                "ended_on": "2026-04-07",
                "approved": True,
                "untold_since": "2026-04-06",
            },
        ],
        done=[{"kind": "close", "on": "2026-06-01"}],
    )
    assert facts.reviews == (
        SetReview("reviews[0]", day("2026-04-02"), 7, 40),
        SetReview("reviews[1]", day("2026-04-09"), 1, 20),
    )
    assert facts.instructions == (
        Instruction("stitches-out", "Ms Vane", "graft", 10, 12, 14),
        Instruction("driving", "the surgeon", "no reason given", from_day=9, confirmed=False),
        Instruction("soaking", "the surgeon", "no reason given", locked=True),
    )
    assert facts.appointments == (
        Appointment(day("2026-04-07"), ("stitches-out", "wound-recheck:w1"), Outcome.ATTENDED),
        Appointment(day("2026-04-08"), (), None, day("2026-04-07"), True, day("2026-04-06")),
    )
    assert facts.done == (Done("close", day("2026-06-01")),)


def finding(**said: Any) -> dict[str, Any]:
    return {"surgery_on": "2026-03-20", "findings": [{"on": "2026-04-02", **said}]}


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ({"sutre": "none"}, "sutre: there is no such field; the fields are appointments, born_on,"),
        ({"ref": 7}, "ref: 7 is not a text"),
        ({"side": "l"}, "side: “l” is not known here; give one of left, right."),
        ({"raised_risk": "yes"}, "raised_risk: “yes” is neither true nor false"),
        ({"stitches_in": -1}, "stitches_in: -1 is not right; give a whole number from 0 to 99."),
        ({"stitches_in": 100}, "stitches_in: 100 is not right"),
        ({"findings": {}}, "findings: {} is not a list"),
        ({"findings": [4]}, "findings[0]: 4 is not an object"),
        ({"closed_as": "died"}, "closed_on: it is missing beside closed_as; give the day on which"),
        ({"closed_on": "2026-06-01", "closed_as": "gone"}, "closed_as: “gone” is not known here; give one of disch"),
        (
            {"born_on": "2026-03-21", "surgery_on": "2026-03-20"},
            "born_on: 2026-03-21 is after surgery on 2026-03-20; correct one of them.",
        ),
        (finding(), "findings[0].kind: it is missing; give one of stitches, wound, red-flag, trim-needed, trimmed."),
        (finding(kind="scar"), "findings[0].kind: “scar” is not known here"),
        (finding(kind="stitches", out=2), "findings[0].left: it is missing; give a whole number from 0 to 99."),
        (finding(kind="stitches", left=2), "findings[0].out: it is missing"),
        (finding(kind="stitches", out=100, left=0), "findings[0].out: 100 is not right"),
        (finding(kind="wound"), "findings[0].state: it is missing; give one of closed, not-closed, concern."),
        (
            finding(kind="wound", state="closed", left=0),
            "findings[0].left: a finding of the kind wound does",
        ),
        (finding(kind="trimmed", state="closed"), "findings[0].state: a finding of the kind trimmed does not have it"),
        (finding(kind="wound", state="closed", colour="red"), "findings[0].colour: there is no such field"),
        (finding(kind="trimmed", on="2026-03-19"), "findings[0].on: 2026-03-19 is before surgery on 2026-03-20"),
        (finding(kind="trimmed", on=None), "findings[0].on: it is missing"),
        (
            finding(kind="trimmed", recorded_on="2026-04-01"),
            "findings[0].recorded_on: 2026-04-01 is before the finding of 2026-04-02; correct one of them.",
        ),
        (finding(kind="trimmed", countersigned_on="2026-04-01"), "findings[0].countersigned_on: 2026-04-01 is before"),
        (finding(kind="red-flag", closed_on="2026-04-01"), "findings[0].closed_on: 2026-04-01 is before the finding"),
        (
            {"findings": [{"on": "2026-04-02", "kind": "trimmed", "ref": "x"}] * 2},
            "findings[1].ref: “x” is used twice; give each its own, or none.",
        ),
        (
            {"reviews": [{"on": "2026-04-02", "in_days": 3, "ref": "x"}] * 2},
            "reviews[1].ref: “x” is used twice",
        ),
        ({"reviews": [{"on": "2026-04-02", "in_days": 0}]}, "reviews[0].in_days: 0 is not right; give a whole number"),
        ({"reviews": [{"on": "2026-04-02", "in_days": 731}]}, "reviews[0].in_days: 731 is not right"),
        ({"reviews": [{"on": "2026-04-02", "in_days": 3, "minutes": 4}]}, "reviews[0].minutes: 4 is not right; give a"),
        ({"reviews": [{"in_days": 3}]}, "reviews[0].on: it is missing"),
        ({"reviews": [{"on": "2026-04-02", "days": 3}]}, "reviews[0].days: there is no such field"),
        ({"instructions": [{"from": 3}]}, "instructions[0].item: it is missing"),
        ({"instructions": [{"item": "flying", "from": 3}]}, "instructions[0].item: “flying” cannot be ordered"),
        ({"instructions": [{"item": "close", "earliest": 3}]}, "instructions[0].earliest: For close, give earliest,"),
        ({"instructions": [{"item": "close", "earliest": 731}]}, "instructions[0].earliest: 731 is not right; give a"),
        ({"instructions": [{"item": "driving", "from": -1}]}, "instructions[0].from: -1 is not right"),
        ({"instructions": [{"item": "driving", "until": 1}]}, "instructions[0].until: there is no such field"),
        ({"appointments": [{"serves": []}]}, "appointments[0].on: it is missing"),
        (
            {"appointments": [{"on": "2026-04-02", "serves": ["review"]}]},
            "appointments[0].serves[0]: “review” is not a follow-up; give one of stitches-out, wound-check,",
        ),
        ({"appointments": [{"on": "2026-04-02", "serves": [3]}]}, "appointments[0].serves[0]: “3” is not a follow-up"),
        (
            {"appointments": [{"on": "2026-04-02", "outcome": "dna"}]},
            "appointments[0].outcome: “dna” is not known",
        ),
        ({"appointments": [{"on": "2026-04-02", "for": 1}]}, "appointments[0].for: there is no such field"),
        ({"done": [{"kind": "surgery", "on": "2026-04-02"}]}, "done[0].kind: “surgery” is not a follow-up"),
        ({"done": [{"kind": "close"}]}, "done[0].on: it is missing"),
        ({"done": [{"kind": "close", "by": "x"}]}, "done[0].by: there is no such field; the fields are kind, on."),
    ],
)
def test_a_line_is_refused_with_the_place_and_the_remedy(body: dict[str, Any], message: str) -> None:
    assert refused(**body).startswith(message)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            b"{",
            "line: it is not JSON (expecting property name enclosed in double quotes at column 2); give one object,",
        ),
        (b"\xff{}", "line: it is not UTF-8; save the file as UTF-8."),
        (b"[1]", "line: [1] is not an object; give one in braces."),
        (b"null", "line: null is not an object"),
        (b"[" * 100_000, "line: it is nested too deeply or holds too long a number"),
        (b'{"stitches_in": ' + b"9" * 5000 + b"}", "line: it is nested too deeply or holds too long a number"),
        (b"{}" + b" " * MOST_BYTES, "line: it is longer than 1000000 bytes; give one episode a line."),
    ],
)
def test_a_line_that_is_no_object_is_refused(line: bytes, message: str) -> None:
    assert refused_line(line).startswith(message)


def test_the_longest_line_and_a_byte_order_mark_are_read() -> None:
    assert read_episode(b"{}" + b" " * (MOST_BYTES - 2)) == read()
    assert read_episode('\ufeff{"ref": "ä"}'.encode()).ref == "ä"


def test_an_episode_is_written_without_its_empty_fields() -> None:
    facts = read(surgery_on="2026-03-20", findings=[{"on": "2026-04-02", "kind": "trimmed"}], side=None)
    body = episode_body(facts)
    assert body["surgery_on"] == "2026-03-20" and body["side"] is None and body["born_on"] is None
    assert body["findings"] == [{"ref": "findings[0]", "kind": "trimmed", "on": "2026-04-02", "source": "seen"}]


def test_an_unconfirmed_instruction_is_written_as_such() -> None:
    (said,) = episode_body(read(instructions=[{"item": "driving", "from": 9, "confirmed": False}]))["instructions"]
    assert (said["from"], said["confirmed"]) == (9, False) and "locked" not in said
    (said,) = episode_body(read(instructions=[{"item": "driving", "locked": True}]))["instructions"]
    assert said["locked"] is True and said["confirmed"] is True
