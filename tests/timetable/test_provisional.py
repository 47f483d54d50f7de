"""Anchors that are not recorded yet: where their day comes from, and what hangs on them."""

from datetime import date

import pytest

from caseload.timetable.calendar import Closed
from caseload.timetable.facts import FIRST_DAY, Done
from caseload.timetable.plan import FollowUp
from caseload.timetable.regions import open_days
from caseload.timetable.standing import days_late, status
from caseload.timetable.terms import ActivityKind, Anchor, Status, Suture, WoundState
from tests.timetable.builders import (
    ENGLAND,
    REGIONS,
    REPORTED,
    after,
    booked,
    doing,
    episode,
    order,
    out_and_closed,
    plan,
    stitches,
    the,
    wound,
)

D0, D5, D8, D12, D13, D14, D16, D17, D20, D21 = (after(n) for n in (0, 5, 8, 12, 13, 14, 16, 17, 20, 21))
CONCERN = WoundState.CONCERN


def review(as_of: date = D0, **facts: object) -> FollowUp:
    return the(plan(episode(therapy_referral=True, **facts), as_of), "therapy-review")


def how(follow_up: FollowUp) -> object:
    """Which follow-up the anchor's day comes from, and how."""
    (reason,) = (reason for reason in follow_up.reasons if reason.code == "counted-provisional")
    anchor, on, kind, source = reason.values
    assert (anchor, on) == (follow_up.anchor, follow_up.anchor_on)
    return kind, source


def test_it_counts_from_the_day_proposed_for_taking_stitches_out() -> None:
    follow_up = review()
    assert (follow_up.anchor, follow_up.anchor_on, follow_up.provisional) == (Anchor.STITCHES_OUT, D14, True)
    assert how(follow_up) == ("stitches-out", "proposed")


def test_it_counts_from_the_booked_day_instead() -> None:
    follow_up = review(appointments=(booked(D16),))
    assert follow_up.anchor_on == D16 and how(follow_up) == ("stitches-out", "booked")


def test_it_counts_from_the_first_open_day_after_a_window_without_one() -> None:
    shut = open_days(REGIONS["GB-ENG"], (Closed(D12, D16),))
    follow_up = the(plan(episode(therapy_referral=True), calendar=shut), "therapy-review")
    assert follow_up.anchor_on == D17 and how(follow_up) == ("stitches-out", "first-after")


def test_beyond_the_holiday_data_it_counts_from_the_day_aimed_at() -> None:
    facts = episode(date(2027, 12, 25), therapy_referral=True)
    follow_up = the(plan(facts, date(2027, 12, 25)), "therapy-review")
    assert follow_up.anchor_on == date(2028, 1, 8) and how(follow_up) == ("stitches-out", "target")


@pytest.mark.parametrize(("as_of", "anchor_on"), [(D13, D14), (D14, D14), (D20, D20)])
def test_it_never_counts_from_a_day_that_has_passed(as_of: date, anchor_on: date) -> None:
    follow_up = review(as_of)
    assert follow_up.anchor_on == anchor_on
    assert how(follow_up) == ("stitches-out", "today" if as_of == D20 else "proposed")


def test_a_booked_day_that_has_passed_gives_way_to_today() -> None:
    assert review(D20, appointments=(booked(D16),)).anchor_on == D20


def test_what_is_stored_hangs_on_no_day() -> None:
    assert review(FIRST_DAY).anchor_on == D14


def test_after_a_partial_removal_it_counts_from_the_recheck() -> None:
    follow_up = review(findings=(stitches(D16, 2, 2),))
    assert follow_up.anchor_on == D21 and how(follow_up) == ("stitches-recheck", "proposed")


def test_the_last_recheck_that_is_due_decides() -> None:
    follow_up = review(findings=(stitches(D8, 1, 3), stitches(D16, 1, 2, ref="s2")))
    assert follow_up.anchor_on == D21


def test_an_entry_without_a_finding_leaves_it_provisional() -> None:
    follow_up = review(done=(Done("stitches-out", D16),))
    assert follow_up.anchor_on == D16 and how(follow_up) == ("stitches-out", "done")


def test_a_recorded_removal_ends_it_even_if_only_reported() -> None:
    follow_up = review(findings=(stitches(D12, source=REPORTED),))
    assert (follow_up.anchor_on, follow_up.provisional) == (D12, False)


def test_with_absorbable_stitches_it_counts_from_the_wound_check() -> None:
    follow_up = review(suture=Suture.ABSORBABLE)
    assert (follow_up.anchor, follow_up.anchor_on) == (Anchor.WOUND_CLOSED, D14)
    assert how(follow_up) == ("wound-check", "proposed")


def test_a_wound_recheck_comes_before_the_check() -> None:
    follow_up = review(suture=Suture.ABSORBABLE, findings=(wound(D5, CONCERN),))
    assert follow_up.anchor_on == D8 and how(follow_up) == ("wound-recheck", "proposed")


def test_a_wound_cannot_close_before_stitches_that_must_come_out() -> None:
    ordered = order("stitches-out", earliest=16, target=19, latest=20)
    follow_up = review(suture=Suture.ABSORBABLE, findings=(wound(D5, CONCERN),), instructions=(ordered,))
    assert follow_up.anchor_on == after(20) and how(follow_up)[0] == "stitches-out"


def test_once_they_are_out_only_the_wound_counts() -> None:
    ordered = order("stitches-out", earliest=10, target=12, latest=14)
    found = (stitches(D12), wound(D12, CONCERN))
    follow_up = review(suture=Suture.ABSORBABLE, findings=found, instructions=(ordered,))
    assert how(follow_up) == ("wound-recheck", "proposed")


def test_an_unknown_suture_counts_from_the_wound_check_for_both() -> None:
    timetable = plan(episode(suture=Suture.UNKNOWN, therapy_referral=True))
    assert the(timetable, "therapy-review").anchor_on == D14
    massage = doing(timetable, ActivityKind.SCAR_MASSAGE)
    assert massage.provisional and massage.from_on == after(15)


def test_a_check_that_was_done_without_a_finding_still_gives_a_day() -> None:
    follow_up = review(suture=Suture.ABSORBABLE, done=(Done("wound-check", D13),))
    assert follow_up.anchor_on == D13 and how(follow_up) == ("wound-check", "done")


def test_what_hangs_on_it_is_never_late() -> None:
    follow_up = review(FIRST_DAY)
    long_after = date(2027, 6, 1)
    assert status(follow_up, long_after) is Status.OPEN and days_late(follow_up, long_after) == 0


def test_an_activity_hangs_on_it_too() -> None:
    facts = episode(findings=())
    for kind in (ActivityKind.SCAR_MASSAGE, ActivityKind.PASSIVE_STRETCH, ActivityKind.SOAKING):
        assert doing(plan(facts, D20), kind).provisional
    assert doing(plan(facts, D20), ActivityKind.SCAR_MASSAGE).from_on == D21
    assert not doing(plan(facts), ActivityKind.TIGHT_GRIP).provisional
    assert not doing(plan(episode(findings=out_and_closed(D12))), ActivityKind.SOAKING).provisional


def test_the_proposed_day_after_a_provisional_anchor_is_an_open_one() -> None:
    follow_up = review(D20)
    assert follow_up.proposed_on and ENGLAND.is_open(follow_up.proposed_on)
