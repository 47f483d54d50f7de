"""The ten headlines: from which day each applies, and whose it is. Common practice."""

from datetime import date

import pytest

from caseload.timetable.calendar import Closed
from caseload.timetable.concerns import owner_on
from caseload.timetable.facts import Appointment, Done, SetReview
from caseload.timetable.plan import Concern
from caseload.timetable.regions import open_days
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import Headline, Outcome, Owner, Source, Suture, WoundState
from tests.timetable.builders import (
    REGIONS,
    SURGERY,
    about,
    after,
    booked,
    concern,
    day,
    episode,
    order,
    out_and_closed,
    plan,
    red_flag,
    rule_body,
    stitches,
    the,
    wound,
)

D5, D10, D12, D13, D14, D15, D16, D17, D18, D20, D30 = (after(n) for n in (5, 10, 12, 13, 14, 15, 16, 17, 18, 20, 30))
MISSED, PATIENT_CANCELLED = Outcome.DID_NOT_ATTEND, Outcome.CANCELLED_BY_PATIENT


@pytest.mark.parametrize("source", Source)
def test_a_red_flag_is_the_therapists_and_from_the_next_day_the_leads(source: Source) -> None:
    found = concern(plan(episode(findings=(red_flag(D5, source=source),))), Headline.RED_FLAG)
    assert (found.from_on, found.due_on, found.follow_up) == (D5, D5, None)
    assert owner_on(found, D5) is Owner.THERAPIST and owner_on(found, after(6)) is Owner.LEAD


def test_each_open_red_flag_counts_and_a_closed_one_does_not() -> None:
    flags = (red_flag(D5), red_flag(D10, ref="r2"), red_flag(D12, ref="r3", closed_on=D12))
    found = [each for each in plan(episode(findings=flags)).concerns if each.headline is Headline.RED_FLAG]
    assert [each.from_on for each in found] == [D5, D10]


def test_the_safety_alert_is_the_leads() -> None:
    found = concern(plan(episode()), Headline.SAFETY_ALERT)
    assert found == Concern(Headline.SAFETY_ALERT, after(22), Owner.LEAD, after(22))
    assert concern(plan(episode(findings=out_and_closed(D14))), Headline.SAFETY_ALERT) is None


DONE = (Done("stitches-out", D14), Done("outcome-review", D30))


def test_without_a_next_step_it_is_the_leads_from_the_last_thing_done() -> None:
    found = concern(plan(episode(done=(*DONE, Done("close", D20)))), Headline.NO_NEXT_STEP)
    assert (found.from_on, found.owner, found.due_on) == (D30, Owner.LEAD, D30)
    assert concern(plan(episode(done=DONE)), Headline.NO_NEXT_STEP) is None


@pytest.mark.parametrize(
    ("facts", "from_on"),
    [
        ({"side": None}, D5),
        ({"digit": None}, D5),
        ({"side": None, "suture": Suture.UNKNOWN}, D5),
        ({"suture": Suture.UNKNOWN}, after(7)),
    ],
)
def test_a_missing_fact_is_the_admins(facts: dict[str, object], from_on: date) -> None:
    found = concern(plan(episode(recorded_on=D5, **facts)), Headline.MISSING_FACT)
    assert (found.from_on, found.owner, found.due_on) == (from_on, Owner.ADMIN, from_on)


def test_a_missing_surgery_date_is_asked_for_since_ever_or_since_it_was_recorded() -> None:
    assert concern(plan(episode(None)), Headline.MISSING_FACT).from_on == date.min
    timetable = plan(episode(None, recorded_on=D5, suture=Suture.UNKNOWN))
    assert [each.headline for each in timetable.concerns] == [Headline.MISSING_FACT]
    assert timetable.concerns[0].from_on == D5


def test_no_fact_is_missing_of_a_known_episode() -> None:
    assert concern(plan(episode()), Headline.MISSING_FACT) is None


def test_nothing_is_asked_for_before_the_surgery() -> None:
    found = concern(plan(episode(side=None, recorded_on=after(-9))), Headline.MISSING_FACT)
    assert (found.from_on, found.due_on, found.then_on) == (after(0), after(0), None)
    flag = concern(plan(episode(findings=(red_flag(after(-3)),))), Headline.RED_FLAG)
    assert (flag.from_on, flag.then_on, flag.then_owner) == (after(0), after(1), Owner.LEAD)


def unbooked(surgery_on: date = SURGERY, **facts: object) -> Concern | None:
    return about(plan(episode(surgery_on, **facts)), Headline.VISIT_UNBOOKED, "stitches-out")


def test_a_visit_presses_from_the_day_on_which_two_open_days_are_left() -> None:
    """Surgery on a Tuesday: the window runs from Sunday, day 12, to Thursday, day 16."""
    found = unbooked()
    assert (found.from_on, found.owner, found.due_on) == (D15, Owner.ADMIN, D16)


def test_a_window_of_two_open_days_presses_at_once() -> None:
    assert unbooked(day("2026-03-20")).from_on == day("2026-03-20")
    assert unbooked(day("2026-03-24")).from_on == day("2026-04-08")


def test_a_window_beyond_the_holiday_data_presses_when_it_begins() -> None:
    assert unbooked(day("2027-12-20")).from_on == day("2028-01-01")


def test_a_visit_without_any_open_day_presses_at_once() -> None:
    shut = open_days(REGIONS["GB-ENG"], (Closed(D12, D16),))
    found = about(plan(episode(), calendar=shut), Headline.VISIT_UNBOOKED, "stitches-out")
    assert found.from_on == after(0)


def test_booked_done_provisional_or_without_a_visit_nothing_presses() -> None:
    assert unbooked(appointments=(booked(D14),)) is None
    assert unbooked(findings=out_and_closed(D14)) is None
    timetable = plan(episode(therapy_referral=True))
    assert about(timetable, Headline.VISIT_UNBOOKED, "therapy-review") is None
    assert about(timetable, Headline.VISIT_UNBOOKED, "close") is None


def test_an_attended_visit_without_a_finding_presses_again() -> None:
    assert unbooked(appointments=(booked(D14, outcome=Outcome.ATTENDED),)) is not None


def test_a_recheck_and_a_set_review_press_too() -> None:
    facts = episode(findings=(wound(D14, WoundState.CONCERN),), reviews=(SetReview("v1", D14, 7),))
    timetable = plan(facts)
    assert about(timetable, Headline.VISIT_UNBOOKED, "wound-recheck:w1") is not None
    assert about(timetable, Headline.VISIT_UNBOOKED, "set-review:v1") is not None


@pytest.mark.parametrize(("on", "outside"), [(11, True), (12, False), (16, False), (17, True)])
def test_booked_outside_the_window_is_the_admins_until_somebody_approves(on: int, outside: bool) -> None:
    timetable = plan(episode(appointments=(booked(after(on)),)))
    found = about(timetable, Headline.BOOKED_OUTSIDE, "stitches-out")
    expected = Concern(Headline.BOOKED_OUTSIDE, after(0), Owner.ADMIN, D16, "stitches-out")
    assert found == (expected if outside else None)
    approved = plan(episode(appointments=(booked(after(on), approved=True),)))
    assert about(approved, Headline.BOOKED_OUTSIDE, "stitches-out") is None


@pytest.mark.parametrize(
    "other",
    [
        booked(D17, "outcome-review", approved=True),
        booked(D17, approved=True, outcome=PATIENT_CANCELLED),
        booked(D18, approved=True),
    ],
)
def test_only_the_approval_of_that_appointment_counts(other: Appointment) -> None:
    timetable = plan(episode(appointments=(booked(D17), other)))
    assert about(timetable, Headline.BOOKED_OUTSIDE, "stitches-out") is not None


def test_what_is_provisional_is_not_outside() -> None:
    timetable = plan(episode(therapy_referral=True, appointments=(booked(D15, "therapy-review"),)))
    assert about(timetable, Headline.BOOKED_OUTSIDE, "therapy-review") is None


def test_a_late_task_is_the_therapists() -> None:
    found = about(plan(episode()), Headline.TASK_LATE, "close")
    assert found == Concern(Headline.TASK_LATE, after(91), Owner.THERAPIST, after(90), "close")
    assert concern(plan(episode(done=(Done("close", D30),))), Headline.TASK_LATE) is None


def test_a_provisional_task_is_never_late() -> None:
    body = rule_body("two-week")
    body["follow_ups"][-1]["anchor"] = "wound-closed"
    timetable = plan(episode(), rules=RuleSet.from_json(body))
    assert the(timetable, "close").provisional and concern(timetable, Headline.TASK_LATE) is None


def test_concerns_come_most_pressing_first_then_longest_due() -> None:
    facts = episode(
        findings=(red_flag(D10), stitches(D14)),
        appointments=(booked(D20, "outcome-review", untold_since=D5),),
        therapy_referral=True,
    )
    headlines = [each.headline for each in plan(facts).concerns]
    assert headlines == [
        Headline.RED_FLAG,
        Headline.SAFETY_ALERT,
        Headline.NO_OUTCOME,
        Headline.VISIT_UNBOOKED,
        Headline.VISIT_UNBOOKED,
        Headline.BOOKED_OUTSIDE,
        Headline.TASK_LATE,
        Headline.UNTOLD,
    ]
    unbooked = [each.follow_up for each in plan(facts).concerns if each.headline is Headline.VISIT_UNBOOKED]
    assert unbooked == ["wound-recheck:s1", "therapy-review"]


def test_a_closed_episode_concerns_nobody() -> None:
    facts = episode(findings=(red_flag(D5),), appointments=(booked(D14),), closed_on=D30, side=None)
    assert plan(facts).concerns == () and plan(facts).safety_from is None


def test_an_order_that_is_late_is_a_visit_like_any_other() -> None:
    timetable = plan(episode(instructions=(order("stitches-out", earliest=10, target=12, latest=14),)))
    assert about(timetable, Headline.VISIT_UNBOOKED, "stitches-out").due_on == D14
