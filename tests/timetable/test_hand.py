"""Whole-hand activities follow the most restrictive open episode of the hand."""

from datetime import date

from caseload.timetable.activities import Locks, locks_of
from caseload.timetable.hand import restrict, restrict_locks, undated
from caseload.timetable.plan import Activity, Timetable
from caseload.timetable.terms import WHOLE_HAND, ActivityKind, Lock, Suture
from tests.timetable.builders import TWO_WEEK, after, codes, doing, episode, order, out_and_closed, plan, wound

D0, D12, D30 = after(0), after(12), after(30)
HEALED = plan(episode(ref="ring", findings=out_and_closed(D12)))
FRESH = plan(episode(D30, ref="index"))


def together(kind: ActivityKind, own: Timetable, *others: Timetable) -> Activity:
    (found,) = (activity for activity in restrict(own, others) if activity.kind is kind)
    return found


def test_alone_nothing_changes() -> None:
    assert restrict(HEALED, []) == HEALED.activities


def test_the_later_day_and_all_locks_count_for_the_whole_hand() -> None:
    lifting = together(ActivityKind.HEAVY_LIFTING, HEALED, FRESH)
    assert lifting.from_on == after(21, D30) and lifting.locks == (Lock.WOUND_CLOSED,)
    reason = lifting.reasons[-1]
    assert reason.code == "other-digit" and reason.values == ("index", after(21, D30), (Lock.WOUND_CLOSED,))


def test_each_digit_keeps_what_is_its_own() -> None:
    for kind in set(ActivityKind) - WHOLE_HAND:
        assert together(kind, HEALED, FRESH) == doing(HEALED, kind)


def test_the_less_restrictive_digit_changes_nothing() -> None:
    assert restrict(FRESH, [HEALED]) == FRESH.activities


def test_a_closed_episode_restricts_nothing() -> None:
    closed = plan(episode(D30, ref="index", closed_on=D30))
    assert restrict(HEALED, [closed]) == HEALED.activities


def test_the_most_restrictive_of_several_decides() -> None:
    later = plan(episode(after(60), ref="thumb"))
    for others in ([FRESH, later], [later, FRESH]):
        driving = together(ActivityKind.DRIVING, HEALED, *others)
        assert driving.from_on == after(3, after(60)) and driving.reasons[-1].values[0] == "thumb"


def test_a_lock_alone_is_taken_over_and_the_day_kept() -> None:
    locked = plan(episode(ref="index", findings=out_and_closed(D12), instructions=(order("driving", locked=True),)))
    driving = together(ActivityKind.DRIVING, HEALED, locked)
    assert driving.locks == (Lock.INSTRUCTION,) and driving.from_on == doing(HEALED, ActivityKind.DRIVING).from_on
    assert driving.reasons[-1].values == ("index", None, (Lock.INSTRUCTION,))


def test_locks_of_both_stand_in_their_order() -> None:
    own = plan(episode(instructions=(order("soaking", locked=True),), findings=out_and_closed(D12)))
    soaking = together(ActivityKind.SOAKING, own, plan(episode(ref="index")))
    assert soaking.locks == (Lock.WOUND_CLOSED, Lock.STITCHES_OUT, Lock.INSTRUCTION)


def test_a_day_alone_is_taken_over_without_a_lock() -> None:
    other = plan(episode(D30, ref="index", findings=out_and_closed(after(42))))
    grip = together(ActivityKind.TIGHT_GRIP, HEALED, other)
    assert (grip.from_on, grip.locks, grip.reasons[-1].values) == (after(44), (), ("index", after(44), ()))


def test_the_aim_moves_with_the_first_day() -> None:
    work = together(ActivityKind.HANDFREE_WORK, HEALED, FRESH)
    assert (work.from_on, work.aim_on, work.until_on) == (after(31), after(31), None)


def test_the_day_of_a_provisional_other_is_provisional() -> None:
    soaking = together(ActivityKind.SOAKING, HEALED, FRESH)
    assert soaking.provisional and "other-digit" in codes(soaking.reasons)
    dissolving = plan(episode(D30, suture=Suture.ABSORBABLE, findings=(wound(after(44)),)))
    assert not together(ActivityKind.SOAKING, HEALED, dissolving).provisional


def test_an_own_provisional_day_stays_so_where_it_decides() -> None:
    own = plan(episode(D0, ref="ring"), as_of=after(40))
    other = plan(episode(D0, ref="index", suture=Suture.ABSORBABLE, instructions=(order("soaking", locked=True),)))
    soaking = together(ActivityKind.SOAKING, own, other)
    assert soaking.provisional and Lock.INSTRUCTION in soaking.locks


def test_a_childs_hand_has_no_driving_to_restrict() -> None:
    child = plan(episode(ref="ring", born_on=date(2015, 1, 1)))
    grown = plan(episode(ref="index"))
    assert ActivityKind.DRIVING not in {activity.kind for activity in restrict(child, [grown])}
    assert together(ActivityKind.DRIVING, grown, child) == doing(grown, ActivityKind.DRIVING)


def test_an_end_moves_with_the_first_day() -> None:
    driving = doing(HEALED, ActivityKind.DRIVING)._replace(until_on=after(5))
    own = HEALED._replace(activities=(driving,))
    assert together(ActivityKind.DRIVING, own, FRESH).until_on == after(33)


def test_locks_for_a_list_are_those_of_the_timetable() -> None:
    locked = order(item="driving", locked=True)
    for facts in (
        episode(),
        episode(findings=out_and_closed(D12)),
        episode(findings=(wound(D12),), instructions=(locked, order(item="light-tasks", from_day=5))),
        episode(born_on=date(2015, 1, 1), instructions=(locked,)),
        episode(suture=Suture.ABSORBABLE),
    ):
        assert locks_of(facts, TWO_WEEK) == {each.kind: each.locks for each in plan(facts).activities if each.locks}


def test_a_wound_locks_the_hand_though_the_day_of_its_surgery_is_missing() -> None:
    locks = locks_of(episode(None), TWO_WEEK)
    assert locks == locks_of(episode(), TWO_WEEK)
    lifting = together(ActivityKind.HEAVY_LIFTING, HEALED, undated(plan(episode(None, ref="index")), locks))
    assert lifting.locks == (Lock.WOUND_CLOSED,) and lifting.from_on == doing(HEALED, lifting.kind).from_on
    assert lifting.reasons[-1].values == ("index", None, (Lock.WOUND_CLOSED,))


def test_a_digit_operated_on_again_is_one_digit() -> None:
    again = plan(episode(D30, ref="ring again"))
    massage = next(row for row in restrict(HEALED, [], [again]) if row.kind is ActivityKind.SCAR_MASSAGE)
    assert massage.locks == (Lock.WOUND_CLOSED, Lock.STITCHES_OUT)
    assert massage.from_on == doing(again, massage.kind).from_on
    closed = plan(episode(D30, ref="ring again", closed_on=D30))
    assert restrict(HEALED, [], [closed]) == HEALED.activities
    assert restrict_locks({}, [], [{massage.kind: massage.locks}]) == {massage.kind: massage.locks}


def test_a_day_that_waits_for_another_digit_says_so_though_it_is_not_the_later_one_yet() -> None:
    own = plan(episode(D30, ref="ring", findings=out_and_closed(after(42))))
    other = plan(episode(ref="index"))
    assert other.activities and doing(other, ActivityKind.SOAKING).from_on < doing(own, ActivityKind.SOAKING).from_on
    assert together(ActivityKind.SOAKING, own, other).provisional


def test_locks_of_the_whole_hand_come_together() -> None:
    own: Locks = {ActivityKind.SCAR_MASSAGE: (Lock.WOUND_CLOSED,)}
    other: Locks = {ActivityKind.DRIVING: (Lock.INSTRUCTION,), ActivityKind.PASSIVE_STRETCH: (Lock.TRIMMED,)}
    assert restrict_locks(own, [other]) == own | {ActivityKind.DRIVING: (Lock.INSTRUCTION,)}
    assert restrict_locks({ActivityKind.DRIVING: (Lock.WOUND_CLOSED,)}, [other])[ActivityKind.DRIVING] == (
        Lock.WOUND_CLOSED,
        Lock.INSTRUCTION,
    )
