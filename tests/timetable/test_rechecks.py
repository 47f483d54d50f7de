"""Re-checks and set reviews: what causes them, their windows, and what ends them."""

import pytest

from caseload.timetable.causes import set_review_days
from caseload.timetable.facts import Done, SetReview
from caseload.timetable.terms import Anchor, Outcome, Suture, WoundState
from tests.timetable.builders import (
    PATIENT,
    PHOTO,
    REPORTED,
    after,
    booked,
    codes,
    days_of,
    episode,
    kinds,
    out_and_closed,
    plan,
    stitches,
    the,
    wound,
)

D5, D12, D13, D14, D16, D20, D30 = (after(days) for days in (5, 12, 13, 14, 16, 20, 30))
NOT_CLOSED, CONCERN = WoundState.NOT_CLOSED, WoundState.CONCERN


@pytest.mark.parametrize("state", [NOT_CLOSED, CONCERN])
@pytest.mark.parametrize("suture", Suture)
def test_a_wound_that_is_not_closed_is_looked_at_again(suture: Suture, state: WoundState) -> None:
    recheck = the(plan(episode(findings=(wound(D14, state),), suture=suture)), "wound-recheck:w1")
    assert (recheck.anchor, recheck.anchor_on, days_of(recheck)) == (Anchor.FINDING, D14, (1, 3, 7))
    assert recheck.is_due and (recheck.minutes, recheck.in_person) == (20, True)
    assert "after-not-closed" in codes(recheck.reasons)


def test_the_next_wound_finding_ends_it_and_may_cause_another() -> None:
    found = (wound(D12, CONCERN), wound(D14, NOT_CLOSED, ref="w2"), wound(D16, ref="w3"))
    timetable = plan(episode(findings=found, suture=Suture.ABSORBABLE))
    assert the(timetable, "wound-recheck:w1").done_on == D14 and the(timetable, "wound-recheck:w2").done_on == D16
    assert "done-found" in codes(the(timetable, "wound-recheck:w2").reasons)
    assert kinds(timetable).count("wound-recheck") == 2


@pytest.mark.parametrize("source", [REPORTED, PATIENT])
def test_hearsay_that_it_closed_ends_no_recheck(source: object) -> None:
    found = (wound(D12, CONCERN), wound(D14, ref="w2", source=source))
    assert the(plan(episode(findings=found)), "wound-recheck:w1").is_due


def test_the_patients_word_causes_no_recheck() -> None:
    assert "wound-recheck" not in kinds(plan(episode(findings=(wound(D14, CONCERN, source=PATIENT),))))


@pytest.mark.parametrize("source", [REPORTED, PHOTO])
def test_a_reported_removal_is_looked_at_from_the_day_of_the_report(source: object) -> None:
    recheck = the(plan(episode(findings=(stitches(D12, source=source, recorded_on=D14),))), "wound-recheck:s1")
    assert recheck.is_due and recheck.anchor_on == D14 and days_of(recheck) == (1, 3, 7)
    assert "after-report" in codes(recheck.reasons)


def test_a_report_without_a_day_of_its_own_counts_from_the_removal() -> None:
    assert the(plan(episode(findings=(stitches(D12, source=REPORTED),))), "wound-recheck:s1").anchor_on == D12


@pytest.mark.parametrize(
    ("seen_on", "state", "said", "ended"),
    [
        (D16, WoundState.CLOSED, {}, True),
        (D16, NOT_CLOSED, {}, True),
        (D14, WoundState.CLOSED, {}, True),
        (D16, WoundState.CLOSED, {"source": REPORTED, "countersigned_on": D20}, True),
        (D16, WoundState.CLOSED, {"source": REPORTED}, False),
        (D16, NOT_CLOSED, {"source": REPORTED}, False),
        (D5, WoundState.CLOSED, {}, False),
    ],
)
def test_a_report_is_settled_by_somebody_here_looking(
    seen_on: object, state: WoundState, said: dict[str, object], ended: bool
) -> None:
    report = stitches(D12, source=REPORTED, recorded_on=D14)
    timetable = plan(episode(findings=(report, wound(seen_on, state, **said))))
    assert (the(timetable, "wound-recheck:s1").done_on == seen_on) is ended


def test_a_wound_seen_before_the_report_arrived_needs_no_recheck() -> None:
    report = stitches(D12, source=REPORTED, recorded_on=D14)
    assert "wound-recheck" not in kinds(plan(episode(findings=(report, wound(D13)))))


def test_countersigning_a_report_leaves_the_wound_to_be_looked_at() -> None:
    signed = stitches(D12, source=REPORTED, recorded_on=D14, countersigned_on=D16)
    assert the(plan(episode(findings=(signed,))), "wound-recheck:s1").is_due
    closed = wound(D16, source=REPORTED, countersigned_on=D16)
    assert the(plan(episode(findings=(signed, closed))), "wound-recheck:s1").done_on == D16


def test_a_countersigned_report_is_also_settled_by_bad_news_from_elsewhere() -> None:
    signed = stitches(D12, source=REPORTED, recorded_on=D14, countersigned_on=D16)
    timetable = plan(episode(findings=(signed, wound(D16, CONCERN, source=REPORTED))))
    assert the(timetable, "wound-recheck:s1").done_on == D16 and the(timetable, "wound-recheck:w1").is_due


def test_a_removal_at_which_nobody_recorded_the_wound_is_looked_at() -> None:
    recheck = the(plan(episode(findings=(stitches(D12),))), "wound-recheck:s1")
    assert recheck.is_due and recheck.anchor_on == D12 and "after-removal" in codes(recheck.reasons)


def test_a_removal_recorded_late_still_counts_from_the_day_it_was_seen() -> None:
    assert the(plan(episode(findings=(stitches(D12, recorded_on=D16),))), "wound-recheck:s1").anchor_on == D12


@pytest.mark.parametrize("state", WoundState)
def test_a_wound_recorded_at_the_removal_needs_no_recheck_for_it(state: WoundState) -> None:
    timetable = plan(episode(findings=(stitches(D12), wound(D12, state))))
    assert [each.key for each in timetable.follow_ups].count("wound-recheck:s1") == 0


def test_a_wound_recorded_later_finishes_that_recheck() -> None:
    assert the(plan(episode(findings=(stitches(D12), wound(D14)))), "wound-recheck:s1").done_on == D14


def test_a_wound_recorded_before_the_removal_does_not_settle_it() -> None:
    assert the(plan(episode(findings=(wound(D5), stitches(D12)))), "wound-recheck:s1").is_due


def test_a_removal_where_nothing_had_to_come_out_causes_nothing() -> None:
    assert "wound-recheck" not in kinds(plan(episode(findings=(stitches(D12),), suture=Suture.ABSORBABLE)))


@pytest.mark.parametrize(
    ("in_days", "window"),
    [
        (1, (1, 1, 2)),
        (2, (2, 2, 3)),
        (3, (3, 3, 5)),
        (4, (3, 4, 6)),
        (7, (6, 7, 11)),
        (8, (6, 8, 12)),
        (12, (9, 12, 18)),
        (13, (10, 13, 20)),
        (14, (11, 14, 21)),
        (28, (25, 28, 35)),
        (60, (57, 60, 67)),
    ],
)
def test_the_window_of_a_review_in_n_days(in_days: int, window: tuple[int, int, int]) -> None:
    """n - min(3, n // 4) / n / n + min(7, ceil(n / 2)): the trade, default rules."""
    facts = episode(reviews=(SetReview("v1", D14, in_days, 40),))
    review = the(plan(facts), "set-review:v1")
    assert days_of(review) == window and (review.anchor, review.anchor_on) == (Anchor.VISIT, D14)
    assert (review.minutes, review.in_person, review.cause) == (40, True, "v1")


def test_set_reviews_need_no_surgery_date() -> None:
    assert kinds(plan(episode(None, reviews=(SetReview("v1", D14, 7),)))) == ["set-review"]


def test_follow_ups_of_one_kind_come_in_the_order_of_their_anchors() -> None:
    facts = episode(reviews=(SetReview("v2", D20, 7), SetReview("v1", D14, 7)), therapy_referral=True)
    keys = [each.key for each in plan(facts).follow_ups]
    assert keys == ["stitches-out", "therapy-review", "set-review:v1", "set-review:v2", "outcome-review", "close"]


TWO_REVIEWS = (SetReview("v1", D12, 7), SetReview("v2", D20, 7))


@pytest.mark.parametrize(
    ("days", "first", "second"),
    [((D14,), D14, None), ((D14, D30), D14, D30), ((D30, D30), D30, D30), ((D5,), None, None)],
)
def test_entries_that_name_a_kind_go_to_the_earliest_instance_still_due(
    days: tuple[object, ...], first: object, second: object
) -> None:
    timetable = plan(episode(reviews=TWO_REVIEWS, done=tuple(Done("set-review", on) for on in days)))
    assert the(timetable, "set-review:v1").done_on == first and the(timetable, "set-review:v2").done_on == second


def test_an_entry_that_names_a_key_goes_to_that_instance() -> None:
    timetable = plan(episode(reviews=TWO_REVIEWS, done=(Done("set-review:v2", D30), Done("set-review", D30))))
    assert the(timetable, "set-review:v1").done_on == the(timetable, "set-review:v2").done_on == D30


def test_an_attended_visit_finishes_a_set_review_and_the_next_booking_is_for_the_next_one() -> None:
    held, live = booked(D16, "set-review", outcome=Outcome.ATTENDED), booked(D30, "set-review")
    timetable = plan(episode(reviews=TWO_REVIEWS, appointments=(held, live)))
    assert the(timetable, "set-review:v1").done_on == D16 and the(timetable, "set-review:v1").booked_on is None
    assert the(timetable, "set-review:v2").booked_on == D30


def test_two_bookings_of_a_kind_go_to_two_instances() -> None:
    live = (booked(D16, "set-review"), booked(D30, "set-review"))
    timetable = plan(episode(reviews=TWO_REVIEWS, appointments=live))
    assert the(timetable, "set-review:v1").booked_on == D16 and the(timetable, "set-review:v2").booked_on == D30


def test_a_booking_of_a_recheck_goes_to_the_one_that_is_due() -> None:
    found = (wound(D12, CONCERN), wound(D14, CONCERN, ref="w2"))
    timetable = plan(episode(findings=found, appointments=(booked(D16, "wound-recheck"),)))
    assert the(timetable, "wound-recheck:w1").booked_on is None
    assert the(timetable, "wound-recheck:w2").booked_on == D16


def test_attending_a_recheck_without_a_finding_does_not_end_it() -> None:
    held = booked(D16, "wound-recheck", "wound-recheck:w1", outcome=Outcome.ATTENDED)
    timetable = plan(episode(findings=(wound(D12, CONCERN),), appointments=(held,)))
    assert the(timetable, "wound-recheck:w1").is_due


def test_a_booking_by_key_is_for_that_recheck() -> None:
    facts = episode(findings=(wound(D12, CONCERN),), appointments=(booked(D16, "wound-recheck:w1"),))
    assert the(plan(facts), "wound-recheck:w1").booked_on == D16


def test_an_attended_review_is_not_taken_twice() -> None:
    held = booked(D30, "set-review", outcome=Outcome.ATTENDED)
    timetable = plan(episode(reviews=TWO_REVIEWS, appointments=(held, booked(D30, "set-review"))))
    assert the(timetable, "set-review:v1").done_on == D30 and the(timetable, "set-review:v2").booked_on == D30


def test_a_recheck_is_finished_together_with_stitches_and_wound() -> None:
    timetable = plan(episode(findings=(stitches(D12, 2, 2), *out_and_closed(D16)[1:], stitches(D16, 2, ref="s2"))))
    assert not any(each.is_due for each in timetable.follow_ups if "recheck" in each.kind)


def test_the_earliest_instance_is_that_of_the_earliest_visit_whatever_it_is_called() -> None:
    reviews = (SetReview("v1", D20, 7), SetReview("v2", D12, 7))
    timetable = plan(episode(reviews=reviews, done=(Done("set-review", D30),)))
    assert the(timetable, "set-review:v2").done_on == D30 and the(timetable, "set-review:v1").is_due


def test_an_entry_by_kind_passes_over_what_was_attended_by_key() -> None:
    held = booked(D14, "set-review:v1", outcome=Outcome.ATTENDED)
    timetable = plan(episode(reviews=TWO_REVIEWS, appointments=(held,), done=(Done("set-review", D30),)))
    assert the(timetable, "set-review:v1").done_on == D14 and the(timetable, "set-review:v2").done_on == D30


def test_an_entry_of_the_very_day_counts() -> None:
    timetable = plan(episode(reviews=TWO_REVIEWS, done=(Done("set-review", D12),)))
    assert the(timetable, "set-review:v1").done_on == D12


def test_two_bookings_of_a_recheck_go_to_two_rechecks() -> None:
    found = (wound(D12, CONCERN), stitches(D12, 2, 2))
    live = (booked(D14, "wound-recheck"), booked(D16, "wound-recheck"), booked(D20, "stitches-recheck"))
    timetable = plan(episode(findings=(*found, wound(D13, CONCERN, ref="w2")), appointments=live))
    assert the(timetable, "wound-recheck:w2").booked_on == D14
    assert the(timetable, "stitches-recheck:s1").booked_on == D20
    two = (stitches(D12), wound(D14, CONCERN, source=REPORTED))
    signed = plan(episode(findings=(stitches(D12, source=REPORTED), two[1]), appointments=live))
    assert the(signed, "wound-recheck:s1").booked_on == D14 and the(signed, "wound-recheck:w1").booked_on == D16


def test_a_recheck_is_never_provisional() -> None:
    assert the(plan(episode(findings=(wound(D12, CONCERN),))), "wound-recheck").provisional is False


@pytest.mark.parametrize(("in_days", "latest"), [(1, 2), (2, 3), (13, 20), (14, 21), (15, 22)])
def test_the_latest_day_of_a_set_review_is_a_whole_day(in_days: int, latest: int) -> None:
    assert set_review_days(in_days)[1:] == (in_days, latest)
