"""What a change of rules would do, against what the timetables themselves say."""

from collections import Counter

from caseload.timetable.effect import Effect, Farthest
from caseload.timetable.terms import Suture
from caseload.timetable.versions import revised
from tests.timetable.builders import TWO_WEEK, after, booked, effect_of, episode, out_and_closed, plan

TODAY = after(15)
EARLIER = revised(TWO_WEEK, {"follow_ups.0.earliest": 10, "follow_ups.0.target": 11, "follow_ups.0.latest": 13}, "2")


def pair(facts, rules=EARLIER):
    return plan(facts), plan(facts, rules=rules)


def test_the_same_rules_move_nothing() -> None:
    effect = effect_of([pair(episode(), TWO_WEEK), pair(episode(suture=Suture.NONE), TWO_WEEK)], TODAY)
    assert effect == Effect(looked_at=2)


def test_targets_are_counted_by_kind_and_days() -> None:
    effect = effect_of([pair(episode(ref="one")), pair(episode(ref="two")), pair(episode(suture=Suture.NONE))], TODAY)
    assert (effect.looked_at, effect.moved) == (3, 2)
    assert effect.days["stitches-out"] == Counter({-3: 2})
    assert Farthest("one", "stitches-out", -3) in effect.farthest


def test_who_would_be_late_at_once_is_counted_and_who_would_not_be_any_more() -> None:
    assert effect_of([pair(episode())], TODAY).late == 1
    assert effect_of([pair(episode())], after(13)).late == 0
    later = revised(TWO_WEEK, {"follow_ups.0.latest": 20}, "2")
    effect = effect_of([pair(episode(), later)], after(17))
    assert (effect.late, effect.in_time) == (0, 1) and effect.days["stitches-out"] == Counter({0: 1})


def test_an_appointment_that_would_fall_outside_is_counted() -> None:
    held = episode(appointments=(booked(after(14), "stitches-out"),))
    assert effect_of([pair(held)], TODAY).outside == 1
    assert effect_of([pair(held, TWO_WEEK)], TODAY).outside == 0


def test_what_is_done_never_counts() -> None:
    effect = effect_of([pair(episode(findings=out_and_closed(after(14))))], TODAY)
    assert "stitches-out" not in effect.days and effect.late == 0


def test_activities_and_alerts_are_counted() -> None:
    place = {"safety_alert_day": 25, "activities.0.until": 5}
    later = revised(TWO_WEEK, place, "2")
    effect = effect_of([(plan(episode(), rules=later), plan(episode()))], after(22))
    assert effect.activities == {"hand-raised": 1} and effect.alerts == 1


def test_what_other_rules_add_and_drop_is_counted_and_what_they_lock() -> None:
    body = TWO_WEEK.to_json()
    reviews = [rule for rule in body["follow_ups"] if rule["kind"] != "therapy-review"]
    locked = [rule | ({"gates": ["wound-closed"]} if rule["kind"] == "driving" else {}) for rule in body["activities"]]
    other = type(TWO_WEEK).from_json(body | {"follow_ups": reviews, "activities": locked})
    facts = episode(therapy_referral=True)
    effect = effect_of([pair(facts, other)], TODAY)
    assert effect.dropped == {"therapy-review": 1} and effect.locks == {"driving": 1}
    back = effect_of([(plan(facts, rules=other), plan(facts))], TODAY)
    assert back.added == {"therapy-review": 1} and back.locks == {"driving": 1}


def test_only_the_ten_farthest_are_named() -> None:
    effect = effect_of([pair(episode(ref=f"e{number:02}")) for number in range(30)], TODAY)
    assert len(effect.farthest) == 10 and {each.days for each in effect.farthest} == {-3}


def test_it_is_read_back_as_it_was_written() -> None:
    effect = effect_of([pair(episode(appointments=(booked(after(14), "stitches-out"),)))], TODAY)
    assert Effect.from_json(effect.to_json()) == effect
