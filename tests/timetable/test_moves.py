"""What changed between two timetables: for previews, the drift report and the trail."""

from typing import Any

import pytest

from caseload.timetable.facts import Done, EpisodeFacts, SetReview
from caseload.timetable.moves import Move, moves
from caseload.timetable.terms import ActivityKind, Change, FollowUpKind, Suture, WoundState
from tests.timetable.builders import after, booked, doing, episode, out_and_closed, plan, stitches, trim_needed, wound

D10, D12, D14, D16, D30 = (after(days) for days in (10, 12, 14, 16, 30))


def between(before: EpisodeFacts, then: EpisodeFacts, **now: Any) -> dict[str, Move]:
    """Moves by item; the last of an item that moved and was locked or unlocked."""
    return {move.item: move for move in moves(plan(before), plan(then, **now))}


def changes(before: EpisodeFacts, then: EpisodeFacts) -> set[tuple[str, str]]:
    return {(move.item, str(move.change)) for move in moves(plan(before), plan(then))}


def test_nothing_moves_between_equals() -> None:
    assert moves(plan(episode()), plan(episode())) == ()


def test_another_surgery_date_moves_all_that_is_due() -> None:
    found = between(episode(), episode(D12))
    move = found["stitches-out"]
    assert move.change is Change.MOVED and (move.was.target_on, move.now.target_on) == (D14, after(26))
    assert found["driving"].change is Change.MOVED and found["driving"].kind is ActivityKind.DRIVING
    assert all(each.change is Change.MOVED for each in found.values())


def test_what_is_done_never_moves() -> None:
    found = out_and_closed(D30)
    assert "stitches-out" not in between(episode(findings=found), episode(D12, findings=found))


def test_a_finding_finishes_unlocks_and_makes_firm() -> None:
    found = changes(episode(therapy_referral=True), episode(therapy_referral=True, findings=out_and_closed(D12)))
    assert {("stitches-out", "done"), ("therapy-review", "moved"), ("scar-massage", "unlocked")} <= found
    assert {("scar-massage", "moved"), ("heavy-work", "unlocked")} <= found
    assert not {item for item, _ in found} & {"outcome-review", "close", "driving"}


def test_the_same_days_made_firm_are_a_move() -> None:
    found = between(episode(therapy_referral=True), episode(therapy_referral=True, findings=out_and_closed(D14)))
    assert found["therapy-review"].was.target_on == found["therapy-review"].now.target_on
    assert found["therapy-review"].change is Change.MOVED


def test_a_wound_that_opens_adds_a_recheck_and_locks_again() -> None:
    closed = out_and_closed(D12)
    found = changes(episode(findings=closed), episode(findings=(*closed, wound(D16, WoundState.CONCERN, ref="w2"))))
    assert {("wound-recheck:w2", "added"), ("scar-massage", "relocked")} <= found


def test_a_partial_removal_drops_and_adds() -> None:
    found = changes(episode(), episode(findings=(stitches(D12, 2, 2),)))
    assert {("stitches-out", "dropped"), ("stitches-recheck:s1", "added")} <= found


def test_a_follow_up_that_is_not_derived_any_more_is_dropped() -> None:
    found = between(episode(), episode(suture=Suture.ABSORBABLE))
    assert found["stitches-out"].change is Change.DROPPED and found["stitches-out"].now is None
    assert found["wound-check"].change is Change.ADDED and found["wound-check"].was is None


def test_closing_drops_everything_due_and_says_nothing_of_the_rest() -> None:
    done = out_and_closed(D12)
    assert changes(episode(findings=done), episode(findings=done, closed_on=D30)) == {
        ("outcome-review", "dropped"),
        ("close", "dropped"),
    }


def test_opening_again_adds_what_is_due() -> None:
    found = changes(episode(closed_on=D30), episode())
    assert found == {("stitches-out", "added"), ("outcome-review", "added"), ("close", "added")}


def test_what_was_dropped_and_stays_so_is_not_mentioned() -> None:
    assert changes(episode(closed_on=D30), episode(D12, closed_on=D30)) >= {("driving", "moved")}
    assert "stitches-out" not in between(episode(closed_on=D30), episode(D12, closed_on=D30))


def test_dropped_or_new_and_then_done_is_done() -> None:
    assert ("close", "done") in changes(episode(closed_on=D30), episode(closed_on=D30, done=(Done("close", D30),)))
    late = episode(reviews=(SetReview("v1", D12, 2),), done=(Done("set-review", D14),))
    assert ("set-review:v1", "done") in changes(episode(), late)


def test_a_new_follow_up_that_is_dropped_at_once_is_not_mentioned() -> None:
    then = episode(reviews=(SetReview("v1", D12, 2),), closed_on=D30)
    assert "set-review:v1" not in between(episode(), then)


def test_what_was_done_and_is_due_again_is_added() -> None:
    done = episode(done=(Done("close", D30),))
    assert ("close", "added") in changes(done, episode())
    assert ("close", "dropped") in changes(done, episode(closed_on=D30))


def test_turning_a_check_into_a_visit_is_a_move() -> None:
    before, then = episode(suture=Suture.ABSORBABLE), episode(suture=Suture.ABSORBABLE, findings=(trim_needed(D10),))
    assert ("wound-check", "moved") in changes(before, then)


def test_a_booking_moves_nothing() -> None:
    assert changes(episode(), episode(appointments=(booked(D14),))) == set()


@pytest.mark.parametrize(("born", "change"), [(after(-5000), Change.DROPPED), (None, None)])
def test_an_activity_that_falls_away_is_dropped_and_one_that_returns_added(born: object, change: object) -> None:
    there, back = between(episode(), episode(born_on=born)), between(episode(born_on=born), episode())
    assert (there["driving"].change if "driving" in there else None) is change
    assert (back["driving"].change if "driving" in back else None) is (change and Change.ADDED)


def test_follow_ups_come_first_each_in_their_order() -> None:
    items = [move.item for move in moves(plan(episode()), plan(episode(D12)))]
    assert items[:3] == ["stitches-out", "outcome-review", "close"] and items[3:] == list(ActivityKind)


def test_a_move_holds_the_kind_and_both_states() -> None:
    before, then = plan(episode()), plan(episode(D12))
    found = {move.item: move for move in moves(before, then)}
    assert found["stitches-out"].kind is FollowUpKind.STITCHES_OUT
    for kind in (ActivityKind.DRIVING, ActivityKind.HEAVY_WORK):
        assert (found[kind].was, found[kind].now) == (doing(before, kind), doing(then, kind))
