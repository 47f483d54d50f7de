"""The surgeon's instructions: what they replace, and what they may say."""

from typing import Any

import pytest

from caseload.errors import Refusal
from caseload.timetable.activities import locks_of
from caseload.timetable.orders import check_instruction, order_reasons, read_orders
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import ActivityKind, Anchor, Lock, Mark, Suture, Technique
from tests.timetable.builders import (
    TWO_WEEK,
    after,
    booked,
    codes,
    days_of,
    doing,
    episode,
    kinds,
    order,
    out_and_closed,
    plan,
    rule_body,
    the,
    wound,
)

WINDOW = {"earliest": 10, "target": 12, "latest": 14}


def ordered(*given: Any, **facts: Any) -> Any:
    return plan(episode(instructions=given, **facts))


def test_it_replaces_the_window_of_a_follow_up() -> None:
    follow_up = the(ordered(order("stitches-out", **WINDOW)), "stitches-out")
    assert days_of(follow_up) == (10, 12, 14) and (follow_up.minutes, follow_up.in_person) == (20, True)
    assert "ordered-window" in codes(follow_up.reasons) and "rule-window" not in codes(follow_up.reasons)
    assert "counted-surgery" in codes(follow_up.reasons)


def test_it_makes_a_review_count_from_surgery() -> None:
    timetable = ordered(order("therapy-review", earliest=20, target=21, latest=30), therapy_referral=True)
    review = the(timetable, "therapy-review")
    assert (review.anchor, review.anchor_on, review.provisional) == (Anchor.SURGERY, after(0), False)
    assert days_of(review) == (20, 21, 30)


def test_it_brings_in_a_follow_up_that_no_rule_gives() -> None:
    timetable = ordered(order("stitches-out", **WINDOW), suture=Suture.ABSORBABLE)
    assert kinds(timetable) == ["stitches-out", "wound-check", "outcome-review", "close"]
    assert the(timetable, "stitches-out").minutes == 20 and the(timetable, "stitches-out").in_person
    assert the(ordered(order("therapy-review", **WINDOW)), "therapy-review").minutes == 40


def test_stitches_that_are_ordered_out_open_the_wound_gate_only_when_out() -> None:
    given, found = order("stitches-out", **WINDOW), (wound(after(12)),)
    timetable = ordered(given, suture=Suture.ABSORBABLE, findings=found)
    assert doing(timetable, ActivityKind.HEAVY_WORK).locks == (Lock.WOUND_CLOSED,)
    timetable = ordered(given, suture=Suture.ABSORBABLE, findings=out_and_closed(after(12)))
    assert doing(timetable, ActivityKind.HEAVY_WORK).locks == ()


def test_an_ordered_follow_up_is_booked_done_and_dropped_like_any_other() -> None:
    given = order("stitches-out", **WINDOW)
    assert the(ordered(given, appointments=(booked(after(13)),)), "stitches-out").booked_on == after(13)
    assert the(ordered(given, findings=out_and_closed(after(13))), "stitches-out").done_on == after(13)
    assert the(ordered(given, closed_on=after(5)), "stitches-out").dropped


def test_it_gives_an_activity_its_first_day_and_leaves_its_gates() -> None:
    massage = doing(ordered(order("scar-massage", from_day=28)), ActivityKind.SCAR_MASSAGE)
    assert (massage.from_on, massage.aim_on, massage.until_on) == (after(28), None, None)
    assert massage.locks == (Lock.WOUND_CLOSED, Lock.STITCHES_OUT) and not massage.provisional
    assert codes(massage.reasons) == [
        "ordered-day",
        "counted-surgery",
        "wound-not-recorded",
        "removal-not-recorded",
    ]


def test_a_first_day_replaces_the_not_before_terms_and_the_end() -> None:
    assert doing(ordered(order("passive-stretch", from_day=3)), ActivityKind.PASSIVE_STRETCH).from_on == after(3)
    assert doing(ordered(order("hand-raised", from_day=0)), ActivityKind.HAND_RAISED).until_on is None


def test_it_locks_an_activity_whatever_the_day() -> None:
    timetable = ordered(order("driving", locked=True))
    driving = doing(timetable, ActivityKind.DRIVING)
    assert driving.locks == (Lock.INSTRUCTION,) and driving.from_on == after(3)
    assert driving.locked_by(after(300)) == (Lock.INSTRUCTION,)
    assert codes(driving.reasons)[:2] == ["ordered-lock", "rule-day"]
    grip = doing(ordered(order("tight-grip", locked=True)), ActivityKind.TIGHT_GRIP)
    assert grip.locks == (Lock.WOUND_CLOSED, Lock.INSTRUCTION)


def test_it_leaves_other_activities_alone_and_in_their_order() -> None:
    timetable = ordered(order("driving", from_day=9), order("hand-raised", locked=True))
    assert [activity.kind for activity in timetable.activities] == list(ActivityKind)
    plain = plan(episode())
    for kind in set(ActivityKind) - {ActivityKind.DRIVING, ActivityKind.HAND_RAISED}:
        assert doing(timetable, kind) == doing(plain, kind)


def test_an_activity_that_the_rules_do_not_know_is_added() -> None:
    body = rule_body("two-week")
    body["activities"] = [rule for rule in body["activities"] if rule["kind"] != "light-tasks"]
    rules = RuleSet.from_json(body)
    for given, locks, on in (
        (order("light-tasks", from_day=4), (), after(4)),
        (order("light-tasks", locked=True), (Lock.INSTRUCTION,), after(0)),
    ):
        added = doing(plan(episode(instructions=(given,)), rules=rules), ActivityKind.LIGHT_TASKS)
        assert (added.from_on, added.locks, added.provisional) == (on, locks, False)


def test_an_order_for_a_follow_up_that_the_rules_do_not_know_is_refused() -> None:
    body = rule_body("two-week")
    body["follow_ups"] = [rule for rule in body["follow_ups"] if rule["kind"] != "therapy-review"]
    facts = episode(instructions=(order("therapy-review", **WINDOW),))
    with pytest.raises(Refusal) as refusal:
        plan(facts, rules=RuleSet.from_json(body))
    assert refusal.value.code == "no-such-follow-up"


def test_the_last_of_several_stands() -> None:
    timetable = ordered(order("driving", from_day=9), order("driving", from_day=12))
    assert doing(timetable, ActivityKind.DRIVING).from_on == after(12)


def test_an_order_without_a_surgery_date_dates_nothing() -> None:
    facts = episode(None, instructions=(order("stitches-out", **WINDOW), order("driving", from_day=3)))
    assert plan(facts).follow_ups == () and plan(facts).activities == ()


@pytest.mark.parametrize("confirmed", [True, False])
def test_an_order_given_for_another_surgery_date_says_so(confirmed: bool) -> None:
    timetable = ordered(order("stitches-out", **WINDOW, confirmed=confirmed))
    assert (Mark.INSTRUCTION_UNCONFIRMED in timetable.marks) is not confirmed
    assert ("ordered-unconfirmed" in codes(the(timetable, "stitches-out").reasons)) is not confirmed


def test_an_order_replaces_raised_risk_too() -> None:
    timetable = ordered(order("stitches-out", **WINDOW), raised_risk=True, technique=Technique.PERCUTANEOUS)
    assert days_of(the(timetable, "stitches-out")) == (10, 12, 14)


def test_the_reasons_carry_what_was_said() -> None:
    window, on, lock = (
        order_reasons(order("close", **WINDOW)),
        order_reasons(order("driving", from_day=9)),
        order_reasons(order("driving", locked=True)),
    )
    by = ("the surgeon", "tendon repaired as well")
    assert [reason.values for reason in (*window, *on, *lock)] == [(*by, 10, 12, 14), (*by, 9), by]


@pytest.mark.parametrize(
    ("item", "said", "code"),
    [
        ("stitches-out", {}, "instruction-days"),
        ("stitches-out", {"earliest": 10, "target": 12}, "instruction-days"),
        ("stitches-out", {"earliest": 13, "target": 12, "latest": 14}, "instruction-days"),
        ("stitches-out", {"earliest": 10, "target": 15, "latest": 14}, "instruction-days"),
        ("stitches-out", {"earliest": -1, "target": 12, "latest": 14}, "instruction-days"),
        ("stitches-out", {"earliest": 10, "target": 12, "latest": 731}, "instruction-days"),
        ("stitches-out", {**WINDOW, "locked": True}, "instruction-lock"),
        ("stitches-out", {**WINDOW, "from_day": 3}, "instruction-lock"),
        ("wound-recheck", WINDOW, "instruction-item"),
        ("stitches-recheck", WINDOW, "instruction-item"),
        ("set-review", WINDOW, "instruction-item"),
        ("flying", WINDOW, "instruction-item"),
        ("driving", {}, "instruction-lock"),
        ("driving", {"from_day": 3, "locked": True}, "instruction-lock"),
        ("driving", {"from_day": 3, "target": 4}, "instruction-lock"),
        ("driving", {"locked": True, "latest": 4}, "instruction-lock"),
        ("driving", {"from_day": -1}, "instruction-days"),
        ("driving", {"from_day": 731}, "instruction-days"),
    ],
)
def test_what_cannot_be_ordered_is_refused(item: str, said: dict[str, Any], code: str) -> None:
    with pytest.raises(Refusal) as refusal:
        read_orders((order(item, **said),))
    assert refusal.value.code == code and item in refusal.value.message
    assert refusal.value.details["field"] in ("item", "earliest", "from")


def test_an_unknown_item_is_refused_with_the_known_ones() -> None:
    with pytest.raises(Refusal, match="“flying” cannot be ordered; the items are close, covered-shower, .*wound-check"):
        check_instruction(order("flying"))


@pytest.mark.parametrize(
    ("item", "said"),
    [
        ("close", {"earliest": 0, "target": 0, "latest": 0}),
        ("outcome-review", {"earliest": 0, "target": 730, "latest": 730}),
        ("wound-check", WINDOW),
        ("driving", {"from_day": 0}),
        ("driving", {"from_day": 730}),
    ],
)
def test_what_can_be_ordered_is_not(item: str, said: dict[str, Any]) -> None:
    assert read_orders((order(item, **said),))[item] == order(item, **said)
    assert plan(episode(instructions=(order(item, **said),)))


def test_the_day_of_surgery_itself_can_be_ordered() -> None:
    timetable = ordered(order("close", earliest=0, target=0, latest=0), order("driving", from_day=0))
    assert days_of(the(timetable, "close")) == (0, 0, 0)
    assert doing(timetable, ActivityKind.DRIVING).from_on == after(0)


def test_a_list_of_locks_knows_orders_too() -> None:
    grip, tasks = order("tight-grip", locked=True), order("light-tasks", locked=True)
    locks = locks_of(episode(instructions=(grip, tasks, order("driving", from_day=9))), TWO_WEEK)
    assert locks[ActivityKind.TIGHT_GRIP] == (Lock.WOUND_CLOSED, Lock.INSTRUCTION)
    assert locks[ActivityKind.LIGHT_TASKS] == (Lock.INSTRUCTION,) and ActivityKind.DRIVING not in locks
    body = rule_body("two-week")
    body["activities"] = [rule for rule in body["activities"] if rule["kind"] != "light-tasks"]
    assert locks_of(episode(instructions=(tasks,)), RuleSet.from_json(body))[ActivityKind.LIGHT_TASKS] == (
        Lock.INSTRUCTION,
    )
