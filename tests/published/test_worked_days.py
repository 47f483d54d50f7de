"""The worked days of the trade: rule set "two-week", England & Wales, Monday to Friday (common practice, computed)."""

import pytest

from caseload.timetable.hand import restrict
from caseload.timetable.standing import booking, days_late
from caseload.timetable.terms import ActivityKind, Booking, Lock, Outcome
from tests.timetable.builders import ENGLAND, booked, day, doing, episode, out_and_closed, plan, the


@pytest.mark.parametrize(
    ("surgery_on", "proposed_on", "number"),
    [
        ("2026-03-20", "2026-04-02", 13),
        ("2026-03-23", "2026-04-07", 15),
        ("2025-12-18", "2026-01-02", 15),
        ("2026-10-10", "2026-10-23", 13),
    ],
)
def test_1_and_2_the_open_day_nearest_day_14_the_later_on_a_tie(surgery_on: str, proposed_on: str, number: int) -> None:
    follow_up = the(plan(episode(day(surgery_on))), "stitches-out")
    assert follow_up.proposed_on == day(proposed_on)
    assert (follow_up.proposed_on - day(surgery_on)).days == number


def test_3_a_cancellation_leaves_three_usable_days_and_restarts_no_clock() -> None:
    failed = booked(day("2026-04-07"), outcome=Outcome.CANCELLED_BY_PATIENT, ended_on=day("2026-04-02"))
    follow_up = the(plan(episode(day("2026-03-24"), appointments=(failed,))), "stitches-out")
    assert follow_up.latest_on == day("2026-04-09") and follow_up.anchor_on == day("2026-03-24")
    assert len(ENGLAND.open_days(day("2026-04-02"), follow_up.latest_on)) - 1 == 3


def test_3_the_day_after_the_window_is_one_day_late_and_outside() -> None:
    facts = episode(day("2026-03-24"), appointments=(booked(day("2026-04-10")),))
    follow_up = the(plan(facts), "stitches-out")
    assert days_late(follow_up, day("2026-04-10")) == 1
    assert booking(facts.appointments, follow_up, day("2026-04-10")) is Booking.OUTSIDE


def test_5_the_finger_operated_last_decides_for_the_whole_hand() -> None:
    ring = plan(episode(day("2026-03-20"), ref="ring", findings=out_and_closed(day("2026-04-02"))))
    index = plan(episode(day("2026-04-13"), ref="index"))
    activities = {activity.kind: activity for activity in restrict(ring, [index])}
    lifting = activities[ActivityKind.HEAVY_LIFTING]
    assert lifting.from_on == day("2026-05-04") and lifting.locks == (Lock.WOUND_CLOSED,)
    assert activities[ActivityKind.SCAR_MASSAGE] == doing(ring, ActivityKind.SCAR_MASSAGE)


def test_5_two_digits_of_one_hand_can_share_a_day() -> None:
    ring, index = plan(episode(day("2026-03-20"))), plan(episode(day("2026-04-13")))
    review, stitches = the(ring, "outcome-review"), the(index, "stitches-out")
    shared = day("2026-04-27")
    assert all(each.earliest_on <= shared <= each.latest_on for each in (review, stitches))
    assert review.minutes + stitches.minutes == 60
