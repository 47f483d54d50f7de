"""Rule sets as files: what they must hold, and how a broken one is refused. Windows: common practice."""

import copy
from typing import Any

import pytest

from caseload.errors import Refusal
from caseload.timetable.rule import Combination, Days, every_combination
from caseload.timetable.rules import RuleSet, rule_set_digest
from caseload.timetable.terms import ActivityKind, Anchor, FollowUpKind, Lock, Suture, Technique
from tests.timetable.builders import TEN_TO_FOURTEEN, TWO_WEEK, rule_body

Body = dict[str, Any]


def without(body: Body, kind: str, **when: object) -> Body:
    """A copy of a body without the rules of a kind (that apply when)."""
    body = copy.deepcopy(body)
    for part in ("follow_ups", "activities"):
        body[part] = [rule for rule in body[part] if rule["kind"] != kind or not when.items() <= rule["when"].items()]
    return body


def changed(which: str, /, **fields: object) -> Body:
    """The shipped body with fields of the first rule of a kind changed."""
    body = rule_body("two-week")
    rule = next(rule for part in ("follow_ups", "activities") for rule in body[part] if rule["kind"] == which)
    rule |= fields
    return body


def refused(body: Body, code: str = "unreadable") -> str:
    with pytest.raises(Refusal) as refusal:
        RuleSet.from_json(body)
    assert refusal.value.code == code and refusal.value.message.startswith(refusal.value.details["field"])
    return refusal.value.message


@pytest.mark.parametrize("rules", [TWO_WEEK, TEN_TO_FOURTEEN], ids=str)
def test_a_shipped_set_survives_being_written_and_read(rules: RuleSet) -> None:
    assert RuleSet.from_json(rules.to_json()) == rules
    assert rule_set_digest(RuleSet.from_json(rules.to_json())) == rule_set_digest(rules)


def test_the_shipped_sets_name_themselves() -> None:
    assert (str(TWO_WEEK), str(TEN_TO_FOURTEEN)) == ("two-week 1", "ten-to-fourteen 1")
    assert TWO_WEEK.title == "Two weeks" and "sign off" in TWO_WEEK.sign_off
    assert (TWO_WEEK.safety_alert_day, TWO_WEEK.missing_fact_day) == (22, 7)


def test_the_digest_is_the_same_on_every_machine() -> None:
    digests = {rule_set_digest(rules) for rules in (TWO_WEEK, TEN_TO_FOURTEEN)}
    assert len(digests) == 2 and all(len(digest) == 64 for digest in digests)
    assert rule_set_digest(RuleSet.from_json(rule_body("two-week") | {"version": "2"})) not in digests


def test_the_sets_differ_only_in_taking_out_and_checking() -> None:
    shared = [rule for rule in TWO_WEEK.follow_ups if rule in TEN_TO_FOURTEEN.follow_ups]
    differing = [rule for rule in TWO_WEEK.follow_ups if rule not in TEN_TO_FOURTEEN.follow_ups]
    assert TWO_WEEK.activities == TEN_TO_FOURTEEN.activities and len(shared) == 9
    assert [rule.kind for rule in differing] == ["stitches-out", "wound-check", "wound-check"]


def window(rules: RuleSet, kind: FollowUpKind, *facts: Any) -> tuple[int, int, int] | None:
    applied = rules.choices[Combination(*facts)].follow_ups.get(kind)
    return applied.rule.days if applied else None


@pytest.mark.parametrize("technique", Technique)
@pytest.mark.parametrize("referred", [False, True])
@pytest.mark.parametrize(("rules", "usual"), [(TWO_WEEK, (12, 14, 16)), (TEN_TO_FOURTEEN, (10, 12, 14))])
def test_stitches_out_by_risk(rules: RuleSet, usual: Days, technique: Technique, referred: bool) -> None:
    sewn = (Suture.NON_ABSORBABLE, technique)
    assert window(rules, FollowUpKind.STITCHES_OUT, *sewn, False, referred) == usual
    assert window(rules, FollowUpKind.STITCHES_OUT, *sewn, True, referred) == (12, 14, 21)
    assert window(rules, FollowUpKind.WOUND_CHECK, *sewn, False, referred) is None


@pytest.mark.parametrize("risk", [False, True])
@pytest.mark.parametrize(
    ("suture", "technique", "two_week", "ten"),
    [
        (Suture.ABSORBABLE, Technique.OPEN, (12, 14, 16), (10, 12, 14)),
        (Suture.ABSORBABLE, Technique.PERCUTANEOUS, (12, 14, 16), (10, 12, 14)),
        (Suture.NONE, Technique.OPEN, (12, 14, 16), (10, 12, 14)),
        (Suture.NONE, Technique.PERCUTANEOUS, (5, 7, 10), (5, 7, 10)),
        (Suture.UNKNOWN, Technique.OPEN, (12, 14, 16), (12, 14, 16)),
        (Suture.UNKNOWN, Technique.PERCUTANEOUS, (12, 14, 16), (12, 14, 16)),
    ],
)
def test_wound_check_by_suture(suture: Suture, technique: Technique, two_week: Days, ten: Days, risk: bool) -> None:
    for rules, days in ((TWO_WEEK, two_week), (TEN_TO_FOURTEEN, ten)):
        assert window(rules, FollowUpKind.WOUND_CHECK, suture, technique, risk, False) == days
        assert window(rules, FollowUpKind.STITCHES_OUT, suture, technique, risk, False) is None


@pytest.mark.parametrize("facts", list(every_combination()), ids=lambda facts: "-".join(map(str, facts)))
def test_what_everybody_has(facts: Combination) -> None:
    assert window(TWO_WEEK, FollowUpKind.STITCHES_RECHECK, *facts) == (3, 5, 7)
    assert window(TWO_WEEK, FollowUpKind.WOUND_RECHECK, *facts) == (1, 3, 7)
    assert window(TWO_WEEK, FollowUpKind.OUTCOME_REVIEW, *facts) == (35, 42, 56)
    assert window(TWO_WEEK, FollowUpKind.CLOSE, *facts) == (56, 84, 90)


@pytest.mark.parametrize("suture", Suture)
def test_the_first_therapy_review_is_for_those_who_are_referred(suture: Suture) -> None:
    facts = (suture, Technique.OPEN, False)
    assert window(TWO_WEEK, FollowUpKind.THERAPY_REVIEW, *facts, False) is None
    assert window(TWO_WEEK, FollowUpKind.THERAPY_REVIEW, *facts, True) == (7, 14, 21)
    anchor = TWO_WEEK.choices[Combination(*facts, True)].follow_ups[FollowUpKind.THERAPY_REVIEW].rule.anchor
    assert anchor is (Anchor.STITCHES_OUT if suture is Suture.NON_ABSORBABLE else Anchor.WOUND_CLOSED)


@pytest.mark.parametrize(
    ("kind", "minutes", "in_person"),
    [
        ("stitches-out", 20, True),
        ("wound-check", 20, False),
        ("stitches-recheck", 20, True),
        ("wound-recheck", 20, True),
        ("therapy-review", 40, True),
        ("outcome-review", 40, True),
        ("close", 0, False),
    ],
)
def test_what_visit_a_follow_up_needs(kind: str, minutes: int, in_person: bool) -> None:
    rule = TWO_WEEK.visit_of(FollowUpKind(kind))
    assert (rule.kind, rule.minutes, rule.in_person) == (kind, minutes, in_person)


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


def test_the_sign_off_may_be_empty() -> None:
    body = rule_body("two-week")
    del body["sign_off"]
    assert RuleSet.from_json(body).sign_off == ""


@pytest.mark.parametrize("name", ["colour", "follow_up"])
def test_an_unknown_field_of_a_set_is_refused(name: str) -> None:
    assert refused(rule_body("two-week") | {name: 1}).startswith(f"{name}: there is no such field")


@pytest.mark.parametrize("days", [(15, 14, 16), (12, 17, 16), (14, 12, 10)])
def test_a_window_must_not_go_back(days: tuple[int, int, int]) -> None:
    earliest, target, latest = days
    message = refused(changed("stitches-out", earliest=earliest, target=target, latest=latest))
    assert message == (
        f"follow_ups[0] (stitches-out).target: {earliest} / {target} / {latest} is out of order; "
        "earliest, target and latest must not go back."
    )


def test_a_window_may_be_a_single_day() -> None:
    assert RuleSet.from_json(changed("stitches-out", earliest=0, target=0, latest=0)).follow_ups[0].days == (0, 0, 0)


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


def test_gates_stand_in_one_order() -> None:
    first, second = (
        changed("heavy-work", gates=gates) for gates in (["stitches-out", "wound-closed"], ["wound-closed"])
    )
    (rule,) = (rule for rule in RuleSet.from_json(first).activities if rule.kind is ActivityKind.HEAVY_WORK)
    assert rule.gates == (Lock.WOUND_CLOSED, Lock.STITCHES_OUT)
    assert rule_set_digest(RuleSet.from_json(first)) != rule_set_digest(RuleSet.from_json(second))


def test_notes_and_sources_are_kept_and_may_be_absent() -> None:
    rules = RuleSet.from_json(changed("driving", note="With both hands.", source="the clinic"))
    (rule, _) = (rule for rule in rules.activities if rule.kind is ActivityKind.DRIVING)
    assert (rule.note, rule.source) == ("With both hands.", "the clinic")
    rules = RuleSet.from_json(changed("driving", note=None, source=None))
    assert (rules.activities[7].note, rules.activities[7].source) == ("", "")
    assert RuleSet.from_json(changed("close", source=None)).follow_ups[-1].source == ""


def test_a_rule_without_a_condition_is_for_everybody() -> None:
    body = rule_body("two-week")
    for part in ("follow_ups", "activities"):
        for rule in body[part]:
            if rule["when"] == {}:
                del rule["when"]
    assert RuleSet.from_json(body) == TWO_WEEK


def test_a_term_of_no_days_is_a_term() -> None:
    rules = RuleSet.from_json(changed("driving", not_before=[{"anchor": "surgery", "days": 0}]))
    assert rules.activities[7].not_before == ((Anchor.SURGERY, 0),)


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


def test_a_version_that_is_in_use_never_changes() -> None:
    """Episodes are pinned to it: whoever changes a shipped rule gives the set a new version, and this digest."""
    assert rule_set_digest(RuleSet.from_json(rule_body("two-week") | {"title": "Zwölf"})) == (
        "7e091279a84a5be7a8f01132a127a236252ddc1b2ceb18363bb7f7b3981af32b"
    )
