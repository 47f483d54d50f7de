"""Rule sets as files: what they must hold, and how a broken one is refused. Windows: common practice."""

from typing import Any

import pytest

from caseload.timetable.rule import Combination, Days, every_combination
from caseload.timetable.rules import RuleSet, rule_set_digest
from caseload.timetable.terms import ActivityKind, Anchor, FollowUpKind, Lock, Suture, Technique
from tests.timetable.builders import TEN_TO_FOURTEEN, TWO_WEEK, rule_body
from tests.timetable.rule_bodies import changed


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


def test_the_sign_off_may_be_empty() -> None:
    body = rule_body("two-week")
    del body["sign_off"]
    assert RuleSet.from_json(body).sign_off == ""


def test_a_window_may_be_a_single_day() -> None:
    assert RuleSet.from_json(changed("stitches-out", earliest=9, target=9, latest=9)).follow_ups[0].days == (9, 9, 9)


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


def test_a_version_that_is_in_use_never_changes() -> None:
    """Episodes are pinned to it: whoever changes a shipped rule gives the set a new version, and this digest."""
    assert rule_set_digest(RuleSet.from_json(rule_body("two-week") | {"title": "Zwölf"})) == (
        "7e091279a84a5be7a8f01132a127a236252ddc1b2ceb18363bb7f7b3981af32b"
    )
