"""A rule set changed in its counts, and two side by side."""

import pytest

from caseload.errors import Refusal
from caseload.timetable.rules import RuleSet, rule_set_digest
from caseload.timetable.terms import ActivityKind, FollowUpKind
from caseload.timetable.versions import counts, revised, side_by_side, sourced
from tests.timetable.builders import TEN_TO_FOURTEEN, TWO_WEEK

OUT = "follow_ups.0"
FIRST_OUT = {"earliest": 12, "target": 14, "latest": 16, "minutes": 20}


def test_every_count_has_its_place_its_bounds_and_what_it_now_says() -> None:
    found = {count.place: count for count in counts(TWO_WEEK)}
    assert found["safety_alert_day"].value == 22 and found["safety_alert_day"].most == 365
    assert {name: found[f"{OUT}.{name}"].value for name in FIRST_OUT} == FIRST_OUT
    assert found[f"{OUT}.latest"].most == 730 and not found[f"{OUT}.latest"].may_be_empty
    assert found["activities.0.until"].value == 3 and found["activities.0.until"].may_be_empty


def test_a_further_term_of_an_activity_is_a_count_too() -> None:
    found = [count for count in counts(TWO_WEEK) if count.name == "not before, surgery"]
    assert [(each.kind, each.value) for each in found] == [(ActivityKind.PASSIVE_STRETCH, 14)]


def test_changed_counts_make_another_version_and_leave_the_first_alone() -> None:
    before = rule_set_digest(TWO_WEEK)
    then = revised(TWO_WEEK, {f"{OUT}.target": 13, "activities.0.until": None}, "2", "agreed in March")
    assert (then.version, then.sign_off) == ("2", "agreed in March")
    assert then.follow_ups[0].days == (12, 13, 16) and then.activities[0].until_day is None
    assert rule_set_digest(TWO_WEEK) == before != rule_set_digest(then)


def test_without_words_the_sign_off_stays() -> None:
    assert revised(TWO_WEEK, {}, "2").sign_off == TWO_WEEK.sign_off


def test_a_term_of_an_activity_is_changed_in_its_place() -> None:
    place = next(count.place for count in counts(TWO_WEEK) if count.name == "not before, surgery")
    then = revised(TWO_WEEK, {place: 16}, "2")
    assert next(count.value for count in counts(then) if count.place == place) == 16


@pytest.mark.parametrize("numbers", [{f"{OUT}.target": 17}, {f"{OUT}.earliest": None}, {f"{OUT}.latest": 731}])
def test_what_cannot_be_is_refused_and_names_the_rule(numbers) -> None:
    with pytest.raises(Refusal) as refusal:
        revised(TWO_WEEK, numbers, "2")
    assert "stitches-out" in refusal.value.message


@pytest.mark.parametrize("place", ["name", "follow_ups.0.anchor", "activities.9.gates", "follow_ups.99.target"])
def test_nothing_but_a_count_can_be_changed(place: str) -> None:
    with pytest.raises(KeyError):
        revised(TWO_WEEK, {place: 1}, "2")


def test_side_by_side_only_what_differs_is_changed() -> None:
    then = revised(TWO_WEEK, {f"{OUT}.latest": 17, "missing_fact_day": 5}, "2")
    changed = {line.kind: line.changed for line in side_by_side(TWO_WEEK, then) if line.changed}
    assert changed == {None: ("missing_fact_day",), FollowUpKind.STITCHES_OUT: ("latest",)}


def test_a_number_that_was_changed_gives_its_own_source() -> None:
    then = sourced(TWO_WEEK, revised(TWO_WEEK, {f"{OUT}.latest": 17, "activities.0.until": 4}, "2"), "agreed in March")
    assert [rule.kind for rule in then.follow_ups if rule.source == "agreed in March"] == [FollowUpKind.STITCHES_OUT]
    assert [rule.kind for rule in then.activities if rule.source == "agreed in March"] == [ActivityKind.HAND_RAISED]
    assert then.version == "2" and then.follow_ups[1:] == TWO_WEEK.follow_ups[1:]


def test_what_only_another_file_can_change_is_shown_side_by_side_too() -> None:
    body = TWO_WEEK.to_json()
    body["follow_ups"][8] |= {"in_person": False, "anchor": "surgery"}
    body["activities"][5] |= {"gates": ["wound-closed"]}
    changed = {line.kind: line.changed for line in side_by_side(TWO_WEEK, RuleSet.from_json(body)) if line.changed}
    assert changed[FollowUpKind.THERAPY_REVIEW] == ("anchor", "in_person")
    assert list(changed.values())[1:] == [("gates",)]


def test_a_rule_that_only_one_set_has_stands_alone() -> None:
    lines = side_by_side(TWO_WEEK, TEN_TO_FOURTEEN)
    both = [line for line in lines if line.before and line.after]
    alone = [line for line in lines if not (line.before and line.after)]
    assert len(both) + len(alone) == len(lines) == len({(line.kind, line.when) for line in lines})
    assert all(line.changed for line in alone)
