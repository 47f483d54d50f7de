"""Rules signed before a suture type was thought of: they stay readable, and nothing is made up for that type.

Here the absorbable ones stand for such a type. Decided here: what the rules do not name is looked at as if nobody had
recorded it (common practice for stitches that nobody recorded).
"""

from typing import Any

import pytest

from caseload.errors import Refusal
from caseload.timetable import rules as shapes
from caseload.timetable.plan import Reason
from caseload.timetable.rules import RuleSet, rule_set_digest
from caseload.timetable.terms import FollowUpKind, Suture, Technique
from tests.timetable.builders import TWO_WEEK, after, days_of, episode, kinds, plan, rule_body, stitches, the

LATER = Suture.ABSORBABLE


@pytest.fixture
def before(monkeypatch: pytest.MonkeyPatch) -> RuleSet:
    """The shipped rules, as they would have been signed when there was no such type."""
    monkeypatch.setitem(shapes.SUTURES, 1, frozenset(Suture) - {LATER})
    return RuleSet.from_json(unnamed(rule_body("two-week")))


def unnamed(body: dict[str, Any]) -> dict[str, Any]:
    """Without any word of the type; a rule that was for it alone goes."""
    for part in ("follow_ups", "activities"):
        body[part] = [rule for rule in body[part] if rule["when"].get("suture") != [str(LATER)]]
        for rule in body[part]:
            if "suture" in rule["when"]:
                rule["when"]["suture"] = [word for word in rule["when"]["suture"] if word != LATER]
    return body


@pytest.mark.parametrize("technique", Technique)
def test_no_day_for_taking_stitches_out_is_made_up_and_the_wound_is_looked_at(before: RuleSet, technique) -> None:
    found = plan(episode(suture=LATER, technique=technique), rules=before)
    assert FollowUpKind.STITCHES_OUT not in kinds(found)
    assert days_of(the(found, "wound-check")) == (12, 14, 16)
    assert the(found, "wound-check").reasons[1] == Reason("suture-unnamed")


def test_nothing_may_begin_sooner_than_for_a_suture_that_nobody_recorded(before: RuleSet) -> None:
    for findings in ((), (stitches(after(14)),)):
        later, unknown = (plan(episode(suture=of, findings=findings), rules=before) for of in (LATER, Suture.UNKNOWN))
        assert [(each.kind, each.from_on) for each in later.activities] == [
            (each.kind, each.from_on) for each in unknown.activities
        ]


@pytest.mark.parametrize("suture", set(Suture) - {LATER})
def test_whatever_the_rules_name_stays_as_it_was(before: RuleSet, suture: Suture) -> None:
    found, was = (plan(episode(suture=suture), rules=rules) for rules in (before, TWO_WEEK))
    assert [(each.key, each.earliest_on, each.target_on, each.latest_on) for each in found.follow_ups] == [
        (each.key, each.earliest_on, each.target_on, each.latest_on) for each in was.follow_ups
    ]


def test_it_is_written_as_it_was_read_so_that_its_digest_stands(before: RuleSet, monkeypatch) -> None:
    digest, body = rule_set_digest(before), before.to_json()
    monkeypatch.setattr(shapes, "SHAPE", 2)
    monkeypatch.setitem(shapes.SUTURES, 2, frozenset(Suture))
    assert RuleSet.from_json(body) == before and rule_set_digest(RuleSet.from_json(body)) == digest


def test_rules_of_the_next_shape_have_to_name_it(before: RuleSet, monkeypatch) -> None:
    monkeypatch.setitem(shapes.SUTURES, 2, frozenset(Suture))
    with pytest.raises(Refusal, match="nobody looks at the wound for suture absorbable"):
        RuleSet.from_json(before.to_json() | {"shape": 2})
    assert RuleSet.from_json(rule_body("two-week") | {"shape": 2}).choices.keys() == before.choices.keys()


@pytest.mark.parametrize(("part", "place"), [("follow_ups", 2), ("activities", 6)])
def test_rules_of_an_earlier_shape_cannot_name_it(before: RuleSet, part: str, place: int) -> None:
    body = before.to_json()
    body[part][place]["when"]["suture"] = [str(LATER)]
    with pytest.raises(
        Refusal, match=rf"{part}\[{place}\] .*\.when\.suture: rules of this shape do not know"
    ) as refused:
        RuleSet.from_json(body)
    assert refused.value.code == "unsound-rules"
