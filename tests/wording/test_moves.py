"""Each move between two timetables as one line."""

from caseload.timetable.moves import moves
from caseload.timetable.terms import Suture
from caseload.wording import say_move
from tests.timetable.builders import after, day, episode, out_and_closed, plan, trim_needed


def lines(before: object, then: object) -> list[str]:
    return [say_move(move) for move in moves(plan(before), plan(then))]


def test_a_follow_up_that_moves() -> None:
    found = lines(episode(day("2026-03-20")), episode(day("2026-03-23")))
    assert found[0] == "Stitches out: Thu 2 Apr 2026 → Tue 7 Apr 2026"
    assert "Driving: from Mon 23 Mar 2026 → from Thu 26 Mar 2026" in found


def test_done_unlocked_and_locked_again() -> None:
    there = lines(episode(), episode(findings=out_and_closed(after(14))))
    assert (
        there[0] == "Stitches out: done, Tue 17 Feb 2026" and "Heavy lifting: unlocked, from Tue 24 Feb 2026" in there
    )
    assert "Heavy lifting: locked again" in lines(episode(findings=out_and_closed(after(14))), episode())


def test_a_new_day_of_what_is_locked_says_that_it_stays_locked() -> None:
    """A day that comes nearer is no leave to begin: the gate is still shut."""
    found = lines(episode(day("2026-03-23")), episode(day("2026-03-20")))
    assert "Heavy lifting: from Mon 13 Apr 2026 → from Fri 10 Apr 2026, still locked" in found
    assert not any("still locked" in line for line in found if line.startswith(("Driving", "Stitches out")))


def test_added_and_not_needed() -> None:
    found = lines(episode(), episode(suture=Suture.ABSORBABLE))
    assert "Stitches out: not needed any more" in found and "Wound check: added, Tue 17 Feb 2026" in found


def test_a_move_that_leaves_the_day_alone() -> None:
    dissolving = {"suture": Suture.ABSORBABLE}
    found = lines(episode(**dissolving), episode(**dissolving, findings=(trim_needed(after(3)),)))
    assert "Wound check: moved, Tue 17 Feb 2026" in found


def test_a_day_that_stays_and_is_sure_now() -> None:
    before, then = episode(therapy_referral=True), episode(therapy_referral=True, findings=out_and_closed(after(14)))
    found = lines(before, then)
    assert "First therapy review: no longer provisional, Tue 3 Mar 2026" in found
    assert "First therapy review: provisional now, Tue 3 Mar 2026" in lines(then, before)


def test_a_window_without_a_day_is_given_whole() -> None:
    found = lines(episode(), episode(day("2027-12-25")))
    assert found[0] == "Stitches out: Tue 17 Feb 2026 → between Thu 6 Jan 2028 and Mon 10 Jan 2028"
