"""The whole timetable: next step, marks, and the days at the edges of the calendar."""

from datetime import date

import pytest

from caseload.timetable.calendar import Closed, OpenDays
from caseload.timetable.facts import Done, SetReview
from caseload.timetable.plan import NextStep
from caseload.timetable.regions import open_days
from caseload.timetable.rule import Days
from caseload.timetable.terms import Mark, Owner, Suture, WoundState
from caseload.timetable.windows import window
from tests.timetable.builders import (
    REGIONS,
    after,
    booked,
    codes,
    day,
    episode,
    fresh,
    order,
    out_and_closed,
    plan,
    the,
    wound,
)

D5, D12, D14, D16, D17, D30, D42 = (after(days) for days in (5, 12, 14, 16, 17, 30, 42))
CLOSED_OVER = open_days(REGIONS["GB-ENG"], (Closed(D12, D16, "works"),))


def test_a_timetable_names_its_episode_and_rules() -> None:
    timetable = plan(episode(ref="e7"))
    assert (timetable.ref, timetable.rules, timetable.surgery_on) == ("e7", "two-week 1", after(0))
    assert timetable.is_open and not plan(episode(closed_on=D30)).is_open


def test_the_next_step_is_what_is_expected_first_and_the_admins_until_it_is_booked() -> None:
    assert plan(episode()).next_step == NextStep("stitches-out", D14, Owner.ADMIN, "stitches-out")
    live = episode(appointments=(booked(D16),))
    assert plan(live).next_step == NextStep("stitches-out", D16, Owner.THERAPIST, "stitches-out")


def test_a_task_without_a_visit_is_the_therapists() -> None:
    done = (Done("stitches-out", D14), Done("outcome-review", D42))
    step = plan(episode(done=done)).next_step
    assert (step.kind, step.owner) == ("close", Owner.THERAPIST)


def test_an_early_booking_comes_first() -> None:
    step = plan(episode(appointments=(booked(D12, "outcome-review"),))).next_step
    assert (step.kind, step.on, step.owner) == ("outcome-review", D12, Owner.THERAPIST)


def test_a_recheck_is_named_by_its_key() -> None:
    step = plan(episode(findings=(wound(D5, WoundState.CONCERN),))).next_step
    assert (step.kind, step.follow_up) == ("wound-recheck", "wound-recheck:w1")


def test_on_one_day_the_first_kind_comes_first() -> None:
    facts = episode(reviews=(SetReview("v1", after(0), 14),))
    assert plan(facts).next_step.kind == "stitches-out"


def test_without_an_open_day_it_is_the_first_one_after() -> None:
    assert plan(episode(), calendar=CLOSED_OVER).next_step.on == D17


def test_without_any_known_day_it_is_the_earliest() -> None:
    assert plan(episode(date(2027, 12, 25))).next_step.on == after(12, date(2027, 12, 25))


def test_a_missing_surgery_date_is_the_next_step() -> None:
    assert plan(episode(None)).next_step == NextStep("missing-fact", date.min, Owner.ADMIN, None)
    recorded = episode(None, recorded_on=D5, reviews=(SetReview("v1", after(0), 1),))
    assert plan(recorded).next_step == NextStep("missing-fact", D5, Owner.ADMIN, None)


def test_nothing_comes_next_when_closed_or_all_done() -> None:
    assert plan(episode(closed_on=D30)).next_step is None
    assert plan(episode(None, closed_on=D30)).next_step is None
    done = tuple(Done(kind, D30) for kind in ("stitches-out", "outcome-review", "close"))
    assert plan(episode(done=done)).next_step is None


def test_a_plain_episode_has_no_mark() -> None:
    assert plan(episode()).marks == ()


def test_a_visit_without_an_open_day_is_marked_and_offers_the_first_after() -> None:
    timetable = plan(episode(), calendar=CLOSED_OVER)
    follow_up = the(timetable, "stitches-out")
    assert timetable.marks == (Mark.NO_OPEN_DAY,) and "no-open-day" in codes(follow_up.reasons)
    assert (follow_up.proposed_on, follow_up.first_after_on) == (None, D17)


def test_a_task_without_a_visit_needs_no_open_day() -> None:
    shut = open_days(REGIONS["GB-ENG"], (Closed(after(56), after(90)),))
    assert plan(episode(), calendar=shut).marks == ()


def test_what_is_done_needs_no_open_day_any_more() -> None:
    assert plan(episode(findings=out_and_closed(D14)), calendar=CLOSED_OVER).marks == ()


@pytest.mark.parametrize(
    ("surgery_on", "marked"), [("2027-10-02", False), ("2027-10-03", True), ("2019-12-01", True), ("2020-01-01", False)]
)
def test_a_window_that_reaches_beyond_the_holidays_is_marked(surgery_on: str, marked: bool) -> None:
    """Day 90 of 2 Oct 2027 is 31 Dec 2027, the last day of the list."""
    assert (Mark.BEYOND_HOLIDAY_DATA in plan(episode(day(surgery_on))).marks) is marked


def test_part_of_a_window_inside_the_holidays_is_used() -> None:
    follow_up = the(plan(episode(day("2027-12-18"))), "stitches-out")
    assert follow_up.proposed_on == day("2027-12-31") and "beyond-holiday-data" in codes(follow_up.reasons)
    assert follow_up.first_after_on is None


def test_a_window_wholly_beyond_proposes_nothing_and_is_not_called_empty() -> None:
    timetable = plan(episode(day("2027-12-25")))
    follow_up = the(timetable, "stitches-out")
    assert (follow_up.proposed_on, follow_up.first_after_on) == (None, None)
    assert timetable.marks == (Mark.BEYOND_HOLIDAY_DATA,)
    assert codes(follow_up.reasons)[-2:] == ["no-open-day", "beyond-holiday-data"]


def test_both_edges_of_the_holidays_may_be_marked_with_an_empty_window() -> None:
    shut = open_days(REGIONS["GB-ENG"], (Closed(day("2027-10-15"), day("2027-10-19")),))
    assert plan(episode(day("2027-10-03")), calendar=shut).marks == (Mark.BEYOND_HOLIDAY_DATA, Mark.NO_OPEN_DAY)


def test_marks_come_in_one_order() -> None:
    given = order("close", earliest=1, target=2, latest=3, confirmed=False)
    timetable = plan(episode(day("2027-12-25"), suture=Suture.UNKNOWN, instructions=(given,)))
    assert timetable.marks == (Mark.BEYOND_HOLIDAY_DATA, Mark.SUTURE_UNKNOWN, Mark.INSTRUCTION_UNCONFIRMED)


@pytest.mark.parametrize(
    ("surgery_on", "moved"),
    [
        ("2026-02-03", None),
        ("2026-03-20", ("2026-04-03", "holiday", "2026-04-02", 13, False)),
        ("2026-03-23", ("2026-04-06", "holiday", "2026-04-07", 15, False)),
        ("2025-12-18", ("2026-01-01", "holiday", "2026-01-02", 15, True)),
        ("2026-10-10", ("2026-10-24", "weekday", "2026-10-23", 13, False)),
    ],
)
def test_a_moved_day_says_from_where_why_and_whether_it_was_a_tie(surgery_on: str, moved: object) -> None:
    found = [each for each in window(fresh(), day(surgery_on), Days(12, 14, 16)).reasons if each.code == "moved"]
    said = [(str(v[0]), v[1].code, str(v[2]), v[3], v[4]) for v in (each.values for each in found)]
    assert said == ([moved] if moved else [])


@pytest.mark.parametrize(
    ("earliest", "tied"),
    [(13, True), (14, False)],
)
def test_it_is_a_tie_only_with_an_open_day_inside(earliest: int, tied: bool) -> None:
    reason = window(fresh(), day("2025-12-18"), Days(earliest, 14, 16)).reasons[0]
    assert reason.values[-1] is tied


def test_a_closed_day_as_near_before_is_no_tie() -> None:
    days = OpenDays(frozenset({2}), {}, date(2026, 1, 1), date(2026, 12, 31))
    assert window(days, day("2026-03-02"), Days(0, 1, 6)).reasons[0].values[-1] is False


def test_every_site_keeps_its_own_calendar() -> None:
    scotland = open_days(REGIONS["GB-SCT"])
    facts = episode(day("2026-03-23"))
    assert the(plan(facts, calendar=scotland), "stitches-out").proposed_on == day("2026-04-06")
    assert the(plan(facts), "stitches-out").proposed_on == day("2026-04-07")
