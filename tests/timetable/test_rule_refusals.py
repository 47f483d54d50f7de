"""Rule sets that are refused: by the place of the field, what is wrong, and what would be right."""

import pytest

from caseload.errors import Refusal
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import FollowUpKind
from tests.timetable.builders import rule_body
from tests.timetable.rule_bodies import Body, changed, without


def refused(body: Body, code: str = "unreadable") -> str:
    with pytest.raises(Refusal) as refusal:
        RuleSet.from_json(body)
    assert refusal.value.code == code and refusal.value.message.startswith(refusal.value.details["field"])
    return refusal.value.message


def test_a_kind_that_no_rule_knows_is_refused() -> None:
    rules = RuleSet.from_json(without(rule_body("two-week"), "therapy-review"))
    with pytest.raises(Refusal, match="“Two weeks” say nothing of therapy-review") as refusal:
        rules.visit_of(FollowUpKind.THERAPY_REVIEW)
    assert refusal.value.code == "no-such-follow-up" and refusal.value.details == {"kind": "therapy-review"}


def test_a_set_of_another_shape_is_refused() -> None:
    assert refused(rule_body("two-week") | {"shape": 2}).startswith(
        "shape: this planner cannot read it; give a rule set"
    )


def test_a_set_needs_its_names_and_days() -> None:
    for name in ("name", "version", "title", "safety_alert_day", "missing_fact_day", "shape"):
        body = rule_body("two-week")
        del body[name]
        assert refused(body).startswith(f"{name}: it is missing")


@pytest.mark.parametrize("name", ["colour", "follow_up"])
def test_an_unknown_field_of_a_set_is_refused(name: str) -> None:
    assert refused(rule_body("two-week") | {name: 1}).startswith(f"{name}: there is no such field")


@pytest.mark.parametrize("days", [(15, 14, 16), (12, 17, 16), (14, 12, 10)])
def test_a_window_must_not_go_back(days: tuple[int, int, int]) -> None:
    earliest, target, latest = days
    message = refused(changed("stitches-out", earliest=earliest, target=target, latest=latest))
    assert message == (
        f"follow_ups[0] (stitches-out).target: {earliest} / {target} / {latest} is out of order; "
        "the target is not before the earliest day, and the latest not before the target."
    )


@pytest.mark.parametrize(
    ("kind", "fields", "message"),
    [
        ("stitches-out", {"earliest": -1}, "follow_ups[0] (stitches-out).earliest: -1 is not right"),
        ("stitches-out", {"latest": 731}, "follow_ups[0] (stitches-out).latest: 731 is not right"),
        ("stitches-out", {"minutes": None}, "follow_ups[0] (stitches-out).minutes: it is missing"),
        ("stitches-out", {"minutes": 241}, "follow_ups[0] (stitches-out).minutes: 241 is not right"),
        ("stitches-out", {"anchor": "theatre"}, "follow_ups[0] (stitches-out).anchor: “theatre” is not known"),
        ("stitches-out", {"colour": "red"}, "follow_ups[0].colour: there is no such field"),
        ("stitches-out", {"when": {"suture": ["gut"]}}, "follow_ups[0] (stitches-out).when.suture[0]: “gut” is not"),
        ("stitches-out", {"when": {"sutures": []}}, "follow_ups[0] (stitches-out).when.sutures: there is no such"),
        ("stitches-out", {"kind": "stitch"}, "follow_ups[0].kind: “stitch” is not known here"),
        ("driving", {"from": None}, "activities[7] (driving).from: it is missing"),
        ("driving", {"from": 5, "aim": 4}, "activities[7] (driving).aim: 4 is not right; give a whole number from 5"),
        ("driving", {"from": 5, "until": 4}, "activities[7] (driving).until: 4 is not right; give a whole number from"),
        ("driving", {"gates": ["day"]}, "activities[7] (driving).gates[0]: “day” is not a gate; give one of wound-"),
        ("driving", {"gates": ["wound"]}, "activities[7] (driving).gates[0]: “wound” is not known here"),
        ("driving", {"not_before": [{"anchor": "surgery"}]}, "activities[7] (driving).not_before[0].days: it is miss"),
        ("driving", {"kind": "flying"}, "activities[7].kind: “flying” is not known here"),
        ("driving", {"speed": 1}, "activities[7].speed: there is no such field"),
    ],
)
def test_a_rule_that_cannot_be_read_is_named(kind: str, fields: Body, message: str) -> None:
    assert refused(changed(kind, **fields)).startswith(message)


@pytest.mark.parametrize(
    ("kind", "anchor"),
    [
        ("stitches-out", "stitches-out"),
        ("stitches-out", "wound-closed"),
        ("wound-check", "wound-closed"),
        ("wound-check", "stitches-out"),
        ("stitches-recheck", "surgery"),
        ("wound-recheck", "surgery"),
        ("outcome-review", "finding"),
        ("therapy-review", "visit"),
        ("close", "finding"),
    ],
)
def test_a_follow_up_cannot_count_from_what_does_not_come_before_it(kind: str, anchor: str) -> None:
    message = refused(changed(kind, anchor=anchor), "unsound-rules")
    assert f"({kind}).anchor: it cannot count from “{anchor}”, which does not come before it; give one of" in message


def test_a_set_review_is_no_rule() -> None:
    message = refused(changed("close", kind="set-review"), "unsound-rules")
    assert message == "follow_ups[11] (set-review): its days are set at a visit, not by a rule; leave the rule out."


@pytest.mark.parametrize("anchor", ["finding", "visit"])
def test_an_activity_cannot_count_from_a_finding_or_a_visit(anchor: str) -> None:
    message = refused(changed("driving", not_before=[{"anchor": anchor, "days": 1}]), "unsound-rules")
    assert message.startswith(
        f"activities[7] (driving).anchor: an activity cannot count from “{anchor}”; give surgery,"
    )


def test_two_rules_of_a_kind_for_the_same_facts_are_refused() -> None:
    body = rule_body("two-week")
    body["follow_ups"].append(next(rule for rule in body["follow_ups"] if rule["kind"] == "close"))
    assert refused(body, "unsound-rules") == (
        "close: 2 rules give it for suture non-absorbable, open, no raised risk, no therapy referral; "
        "let exactly one apply."
    )
    body = rule_body("two-week")
    body["activities"].append({"kind": "driving", "when": {"raised_risk": True}, "anchor": "surgery", "from": 5})
    assert "suture non-absorbable, open, raised risk, no therapy referral" in refused(body, "unsound-rules")


@pytest.mark.parametrize("kind", ["stitches-recheck", "wound-recheck", "outcome-review", "close"])
def test_nobody_may_be_without_these(kind: str) -> None:
    message = refused(without(rule_body("two-week"), kind), "unsound-rules")
    assert message.startswith(f"{kind}: no rule gives it for suture non-absorbable, open, no raised risk, no therapy")


def test_somebody_must_look_at_every_wound() -> None:
    message = refused(without(rule_body("two-week"), "wound-check", suture=["absorbable"]), "unsound-rules")
    assert message == (
        "follow_ups: nobody looks at the wound for suture absorbable, open, no raised risk, no therapy referral; "
        "add stitches-out or wound-check."
    )


@pytest.mark.parametrize(("kind", "fields"), [("scar-massage", {"when": {}}), ("therapy-review", {"when": {}})])
def test_an_anchor_needs_a_follow_up_that_records_it(kind: str, fields: Body) -> None:
    """Counted from stitches out for everybody, also where no stitches are taken out."""
    body = changed(kind, **fields)
    for part in ("follow_ups", "activities"):
        seen: set[str] = set()
        body[part] = [
            rule for rule in body[part] if rule["kind"] != kind or not (rule["kind"] in seen or seen.add(rule["kind"]))
        ]
    message = refused(body, "unsound-rules")
    assert message == (
        f"{kind}.anchor: it counts from stitches-out, which nothing records for suture absorbable, open, "
        "no raised risk, no therapy referral; add a stitches-out rule or count from something else."
    )


def test_a_refusal_lists_what_would_do() -> None:
    assert refused(changed("driving", gates=["day"])).endswith("is not a gate; give one of wound-closed, stitches-out.")
    message = refused(changed("close", anchor="finding"), "unsound-rules")
    assert message.endswith("give one of surgery, stitches-out, wound-closed.")
    assert refused(without(rule_body("two-week"), "close"), "unsound-rules").endswith("therapy referral; add one.")


def test_a_combination_is_named_in_full() -> None:
    body = rule_body("two-week")
    body["activities"].append({"kind": "driving", "when": {"therapy_referral": True}, "anchor": "surgery", "from": 5})
    message = refused(body, "unsound-rules")
    assert "for suture non-absorbable, open, no raised risk, therapy referral; let" in message


@pytest.mark.parametrize("day", [0, 6])
def test_no_rule_takes_stitches_out_in_the_first_week(day: int) -> None:
    message = refused(changed("stitches-out", earliest=day), "unsound-rules")
    assert message == (
        f"follow_ups[0] (stitches-out).earliest: stitches would come out on day {day}, before the wound holds; "
        "give day 7 or later."
    )
    assert RuleSet.from_json(changed("stitches-out", earliest=7)).follow_ups[0].days.earliest == 7


@pytest.mark.parametrize("day", [21, 36])
def test_the_safety_alert_stands_after_the_last_window_and_not_long_after(day: int) -> None:
    """The last window of the shipped rules ends on day 21: raised risk."""
    message = refused(rule_body("two-week") | {"safety_alert_day": day}, "unsound-rules")
    assert message == (
        f"safety_alert_day: the alert of day {day} does not fit day 21, the latest for stitches or wound; "
        "give a day from 22 to 35."
    )


def test_without_a_look_at_the_wound_that_is_what_is_told_of() -> None:
    body = rule_body("two-week")
    body["follow_ups"] = [rule for rule in body["follow_ups"] if rule["kind"] not in ("stitches-out", "wound-check")]
    assert "nobody looks at the wound" in refused(body, "unsound-rules")
