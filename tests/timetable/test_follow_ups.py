"""Which follow-ups an episode has, when each is done, and what replaces it. Common practice."""

import pytest

from caseload.timetable.facts import Done
from caseload.timetable.terms import Anchor, FollowUpKind, Mark, Outcome, Source, Suture, Technique, WoundState
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
    trim_needed,
    trimmed,
    wound,
)

D3, D11, D12, D13, D14, D16, D20, D30 = (after(days) for days in (3, 11, 12, 13, 14, 16, 20, 30))
ABSORBABLE = {"suture": Suture.ABSORBABLE}


def test_a_plain_episode_has_its_follow_ups_in_order() -> None:
    timetable = plan(episode(therapy_referral=True))
    assert kinds(timetable) == ["stitches-out", "therapy-review", "outcome-review", "close"]
    assert kinds(plan(episode(**ABSORBABLE))) == ["wound-check", "outcome-review", "close"]


def test_a_follow_up_carries_its_key_anchor_and_visit() -> None:
    follow_up = the(plan(episode()), "stitches-out")
    assert (follow_up.key, follow_up.kind, follow_up.cause) == ("stitches-out", FollowUpKind.STITCHES_OUT, None)
    assert (follow_up.anchor, follow_up.anchor_on) == (Anchor.SURGERY, after(0))
    assert (follow_up.minutes, follow_up.in_person, follow_up.provisional) == (20, True, False)
    assert (follow_up.done_on, follow_up.dropped, follow_up.booked_on, follow_up.is_due) == (None, False, None, True)


def test_an_unknown_suture_gets_no_removal_date_but_a_wound_check() -> None:
    timetable = plan(episode(suture=Suture.UNKNOWN, technique=Technique.PERCUTANEOUS))
    assert "stitches-out" not in kinds(timetable) and Mark.SUTURE_UNKNOWN in timetable.marks
    check = the(timetable, "wound-check")
    assert days_of(check) == (12, 14, 16) and "suture-unknown" in codes(check.reasons)


def test_without_a_surgery_date_nothing_is_dated() -> None:
    timetable = plan(episode(None, therapy_referral=True))
    assert timetable.follow_ups == () and timetable.activities == ()


@pytest.mark.parametrize("source", [Source.SEEN, REPORTED, PHOTO])
def test_stitches_out_is_done_on_the_day_of_a_full_removal(source: Source) -> None:
    follow_up = the(plan(episode(findings=(stitches(D12, source=source, recorded_on=D14),))), "stitches-out")
    assert follow_up.done_on == D12 and not follow_up.is_due
    assert ("removal-not-vouched-for" in codes(follow_up.reasons)) is (source is not Source.SEEN)


def test_the_patients_word_does_not_finish_stitches_out() -> None:
    assert the(plan(episode(findings=(stitches(D12, source=PATIENT),))), "stitches-out").is_due


def test_a_partial_removal_replaces_stitches_out_by_a_recheck() -> None:
    timetable = plan(episode(findings=(stitches(D12, 2, 2),), stitches_in=4))
    replaced, recheck = the(timetable, "stitches-out"), the(timetable, "stitches-recheck:s1")
    assert replaced.dropped and "replaced-by-recheck" in codes(replaced.reasons)
    assert "counts-disagree" not in codes(replaced.reasons)
    assert (recheck.anchor, recheck.anchor_on, days_of(recheck)) == (Anchor.FINDING, D12, (3, 5, 7))
    assert recheck.is_due and recheck.cause == "s1" and "after-partial" in codes(recheck.reasons)


def test_counts_that_disagree_are_given_as_the_reason() -> None:
    follow_up = the(plan(episode(findings=(stitches(D12, 2, 0),), stitches_in=4)), "stitches-out")
    assert follow_up.dropped and "counts-disagree" in codes(follow_up.reasons)


def test_taking_out_the_rest_finishes_recheck_and_stitches_out() -> None:
    timetable = plan(episode(findings=(stitches(D12, 2, 2), stitches(D16, 2, 0, ref="s2")), stitches_in=4))
    assert the(timetable, "stitches-recheck").done_on == the(timetable, "stitches-out").done_on == D16


def test_each_partial_removal_has_its_own_recheck() -> None:
    timetable = plan(episode(findings=(stitches(D12, 2, 2), stitches(D16, 1, 1, ref="s2")), stitches_in=4))
    assert the(timetable, "stitches-recheck:s1").done_on == D16 and the(timetable, "stitches-recheck:s2").is_due


def test_stitches_under_absorbable_ones_cause_no_recheck() -> None:
    assert "stitches-recheck" not in kinds(plan(episode(findings=(stitches(D12, 2, 2),), **ABSORBABLE)))


@pytest.mark.parametrize("state", WoundState)
def test_a_wound_check_is_done_by_any_wound_finding_that_counts(state: WoundState) -> None:
    assert the(plan(episode(findings=(wound(D14, state),), **ABSORBABLE)), "wound-check").done_on == D14


@pytest.mark.parametrize(("seen_on", "done"), [(D11, False), (D12, True), (D30, True)])
def test_a_wound_check_is_not_done_before_its_earliest_day(seen_on: object, done: bool) -> None:
    check = the(plan(episode(findings=(wound(seen_on),), **ABSORBABLE)), "wound-check")
    assert (check.done_on == seen_on) is done and check.is_due is not done


def test_the_first_wound_finding_in_time_finishes_the_check() -> None:
    found = (wound(D3), wound(D14, ref="w2"), wound(D16, ref="w3"))
    assert the(plan(episode(findings=found, **ABSORBABLE)), "wound-check").done_on == D14


@pytest.mark.parametrize("source", [REPORTED, PHOTO, PATIENT])
def test_a_wound_that_is_only_said_to_be_closed_still_needs_its_check(source: Source) -> None:
    assert the(plan(episode(findings=(wound(D14, source=source),), **ABSORBABLE)), "wound-check").is_due


def test_ends_to_be_trimmed_keep_the_check_due_and_make_it_a_visit() -> None:
    check = the(plan(episode(findings=(wound(D14), trim_needed(D14)), **ABSORBABLE)), "wound-check")
    assert check.is_due and check.in_person and "trim-pending" in codes(check.reasons)
    assert not the(plan(episode(**ABSORBABLE)), "wound-check").in_person
    marked_early = the(plan(episode(findings=(trim_needed(D3),), **ABSORBABLE)), "wound-check")
    assert marked_early.is_due and marked_early.in_person


@pytest.mark.parametrize(("trimmed_on", "done_on"), [(D13, D14), (D14, D14), (D16, D16)])
def test_once_trimmed_the_check_is_done_on_the_later_day(trimmed_on: object, done_on: object) -> None:
    found = (trim_needed(D3), wound(D14), trimmed(trimmed_on))
    check = the(plan(episode(findings=found, **ABSORBABLE)), "wound-check")
    assert check.done_on == done_on and not check.in_person


def test_ends_marked_after_the_check_make_a_recheck_instead() -> None:
    timetable = plan(episode(findings=(wound(D14), trim_needed(D16)), **ABSORBABLE))
    assert the(timetable, "wound-check").done_on == D14 and not the(timetable, "wound-check").in_person
    recheck = the(timetable, "wound-recheck:t1")
    assert recheck.anchor_on == D16 and "after-trim-needed" in codes(recheck.reasons)
    timetable = plan(episode(findings=(wound(D14), trim_needed(D16), trimmed(D20)), **ABSORBABLE))
    assert the(timetable, "wound-recheck:t1").done_on == D20 and the(timetable, "wound-check").done_on == D14


def test_ends_marked_where_there_is_no_wound_check_make_a_recheck() -> None:
    assert the(plan(episode(findings=(trim_needed(D3),))), "wound-recheck:t1").anchor_on == D3


def test_ends_marked_before_the_check_make_no_recheck() -> None:
    assert "wound-recheck" not in kinds(plan(episode(findings=(trim_needed(D3),), **ABSORBABLE)))


@pytest.mark.parametrize("kind", ["stitches-out", "therapy-review", "outcome-review", "close"])
def test_an_entry_finishes_any_kind(kind: str) -> None:
    timetable = plan(episode(therapy_referral=True, done=(Done(kind, D30),)))
    assert the(timetable, kind).done_on == D30 and "done-entered" in codes(the(timetable, kind).reasons)


@pytest.mark.parametrize(
    ("kind", "completes"),
    [("wound-check", True), ("outcome-review", True), ("therapy-review", True), ("close", False)],
)
def test_attending_finishes_a_review_or_a_check(kind: str, completes: bool) -> None:
    held = booked(D30, kind, outcome=Outcome.ATTENDED)
    follow_up = the(plan(episode(therapy_referral=True, appointments=(held,), **ABSORBABLE)), kind)
    assert (follow_up.done_on == D30) is completes


def test_attending_alone_takes_no_stitches_out() -> None:
    held = booked(D14, "stitches-out", outcome=Outcome.ATTENDED)
    assert the(plan(episode(appointments=(held,))), "stitches-out").is_due


@pytest.mark.parametrize("outcome", [None, *Outcome])
def test_only_a_live_appointment_is_a_booking(outcome: Outcome | None) -> None:
    follow_up = the(plan(episode(appointments=(booked(D14, outcome=outcome),))), "stitches-out")
    assert follow_up.booked_on == (D14 if outcome is None else None)


def test_the_first_of_several_days_counts() -> None:
    timetable = plan(episode(appointments=(booked(D16), booked(D14)), done=(Done("close", D30), Done("close", D20))))
    assert the(timetable, "stitches-out").booked_on == D14 and the(timetable, "close").done_on == D20


def test_an_earlier_attendance_counts_before_a_later_entry() -> None:
    held = booked(D20, "outcome-review", outcome=Outcome.ATTENDED)
    facts = episode(appointments=(held,), done=(Done("outcome-review", D30),))
    assert the(plan(facts), "outcome-review").done_on == D20


def test_an_appointment_may_serve_several() -> None:
    timetable = plan(episode(appointments=(booked(D16, "stitches-out", "outcome-review"),)))
    assert the(timetable, "stitches-out").booked_on == the(timetable, "outcome-review").booked_on == D16


def test_a_partial_removal_keeps_what_was_entered_as_done() -> None:
    facts = episode(findings=(stitches(D12, 2, 2),), done=(Done("stitches-out", D14),))
    assert the(plan(facts), "stitches-out").done_on == D14


def test_closing_an_episode_drops_what_is_due_and_keeps_what_is_done() -> None:
    timetable = plan(episode(findings=out_and_closed(D12), closed_on=D30, therapy_referral=True))
    assert the(timetable, "stitches-out").done_on == D12
    for kind in ("therapy-review", "outcome-review", "close"):
        assert the(timetable, kind).dropped and "episode-closed" in codes(the(timetable, kind).reasons)
    assert timetable.next_step is None and not timetable.is_open


def test_closing_after_a_partial_removal_leaves_one_reason() -> None:
    timetable = plan(episode(findings=(stitches(D12, 2, 2),), closed_on=D30))
    assert "episode-closed" not in codes(the(timetable, "stitches-out").reasons)
    assert the(timetable, "stitches-recheck").dropped


def test_therapy_review_counts_from_full_removal_or_from_the_closed_wound() -> None:
    sewn = plan(episode(findings=out_and_closed(D12), therapy_referral=True))
    assert the(sewn, "therapy-review").anchor_on == D12 and days_of(the(sewn, "therapy-review")) == (7, 14, 21)
    dissolving = plan(episode(findings=(wound(D16),), therapy_referral=True, **ABSORBABLE))
    review = the(dissolving, "therapy-review")
    assert (review.anchor, review.anchor_on, review.provisional) == (Anchor.WOUND_CLOSED, D16, False)


@pytest.mark.parametrize(("entered_on", "done_on"), [(D13, D13), (D20, D16)])
def test_the_earlier_of_an_entry_and_a_finding_is_the_day_of_the_check(entered_on: object, done_on: object) -> None:
    facts = episode(findings=(wound(D16),), done=(Done("wound-check", entered_on),), **ABSORBABLE)
    assert the(plan(facts), "wound-check").done_on == done_on


def test_an_attended_check_waits_for_the_trim_too() -> None:
    held = booked(D14, "wound-check", outcome=Outcome.ATTENDED)
    facts = episode(findings=(trim_needed(D3),), appointments=(held,), **ABSORBABLE)
    assert the(plan(facts), "wound-check").is_due
    facts = episode(findings=(trim_needed(D3), trimmed(D16)), appointments=(held,), **ABSORBABLE)
    assert the(plan(facts), "wound-check").done_on == D16


def test_ends_marked_at_the_check_and_trimmed_later_end_it_later_without_a_recheck() -> None:
    timetable = plan(episode(findings=(wound(D14), trim_needed(D14), trimmed(D16)), **ABSORBABLE))
    assert the(timetable, "wound-check").done_on == D16 and "wound-recheck" not in kinds(timetable)


def test_without_a_surgery_date_nothing_hangs_on_a_wound_either() -> None:
    assert plan(episode(None, therapy_referral=True, **ABSORBABLE)).follow_ups == ()
