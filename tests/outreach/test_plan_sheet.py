"""What the plan sheet says, case by case; what may be done when is common practice."""

from datetime import date

import pytest

from caseload.actions import appointments, episodes, findings
from caseload.errors import Refusal
from caseload.outreach.plan_sheet import PlanSheet, plan_sheet
from caseload.outreach.plan_sheet_file import paper
from caseload.reads.timetables import hand_timetable
from caseload.wording import patient as say
from tests.outreach.cases import CASES, booked, sheet_of
from tests.outreach.reading import text_of
from tests.scenario import TODAY, by


def doing(sheet: PlanSheet) -> dict[str, str]:
    return {item.what: item.more for item in sheet.now}


def waits(sheet: PlanSheet) -> dict[str, tuple[str, str]]:
    return {item.what: (waiting.until, item.more) for waiting in sheet.waiting for item in waiting.items}


def test_it_says_whom_it_is_for_and_counts_the_days_in_plain_words(clinic):
    patient = clinic.patient(given="Ada", family="Larch", born_on=date(1960, 1, 2))
    said = text_of(paper(plan_sheet(clinic.episode(patient), today=TODAY)))
    assert "For Ada LarchBorn on 2 January 1960Right ring finger" in said
    assert "Operation: Friday 20 March 2026." in said
    assert "Printed on Wednesday 1 April 2026: day 12, that is 12 days after the operation." in said


def test_a_booked_visit_is_said_with_day_time_place_and_purpose(clinic):
    assert sheet_of(clinic, "stitched").visits[0] == "Thursday 2 April 2026 at 09:00, Fernhollow: stitches out."


def test_a_visit_by_telephone_names_no_place(clinic):
    episode = clinic.episode(suture="absorbable")
    clinic.book([episode.follow_ups.get(key="wound-check")], date(2026, 4, 2), way="telephone")
    said = plan_sheet(episode, today=TODAY).visits[0]
    assert said == "Thursday 2 April 2026 at 09:00, by telephone: a check of the wound."


def test_what_is_still_to_be_booked_is_said_with_its_window(clinic):
    assert sheet_of(clinic, "fresh").to_book == (
        "We will ring you about stitches out. It should be between 1 April and 5 April.",
        "We will ring you about the first hand therapy visit. It should be between about 9 April and 23 April. "
        "This may change once all stitches are out.",
        "We will ring you about a check of how the hand works. It should be between 24 April and 15 May.",
    )


def test_a_window_that_has_passed_asks_the_patient_to_ring(clinic):
    said = plan_sheet(clinic.episode(), today=date(2026, 4, 8)).to_book[0]
    assert said == "Please ring us about stitches out. It should have been by 5 April."


def test_a_missed_visit_is_to_be_booked_again(clinic):
    episode = booked(clinic, clinic.episode(), ("stitches-out", date(2026, 4, 2)))
    said = plan_sheet(episode, today=date(2026, 4, 3)).to_book[0]
    assert said == "We will ring you about stitches out. It should be by 5 April."


@pytest.mark.parametrize("case", CASES)
def test_a_day_says_that_it_may_change_where_it_is_provisional_and_only_there(clinic, case):
    episode, today = CASES[case](clinic)
    sheet, timetable = plan_sheet(episode, today=today), hand_timetable(episode, today=today)
    doubtful = [say.VISIT_FOR[row.kind] for row in timetable.follow_ups if row.is_due and row.provisional]
    visits = [*sheet.visits, *sheet.to_book]
    assert [text for text in visits if "may change" in text] == [
        text for text in visits if any(what in text for what in doubtful)
    ]
    unsure = {say.say_doing(row.kind, episode.digit == "thumb") for row in timetable.activities if row.provisional}
    said = waits(sheet)
    assert {what for what, (_, more) in said.items() if "may change" in more} == unsure & set(said)
    assert sheet.provisional == bool(doubtful or unsure & set(said))


def test_a_visit_booked_on_a_provisional_day_says_that_it_may_change(clinic):
    episode = booked(
        clinic, clinic.episode(), ("stitches-out", date(2026, 4, 2)), ("therapy-review", date(2026, 4, 16))
    )
    said = plan_sheet(episode, today=TODAY).visits[1]
    assert said.endswith("the first hand therapy visit. This may change once all stitches are out.")


def test_so_does_one_that_is_booked_for_another_finger(clinic):
    ring = clinic.episode()
    index = clinic.episode(ring.patient, digit="index", surgery_on=date(2026, 3, 24))
    clinic.book([index.follow_ups.get(key="therapy-review")], date(2026, 4, 21))
    (said,) = plan_sheet(ring, today=TODAY).visits
    assert said.endswith("(right index finger). This may change once all stitches are out.")


def test_what_may_be_done_now_and_how(clinic):
    now = doing(sheet_of(clinic, "stitched"))
    assert list(now) == [
        "Bending the finger gently", "Light tasks", "A shower with the hand covered",
        "Work that does not need this hand", "Driving", "Light work with the hands",
    ]  # fmt: skip
    assert now["Bending the finger gently"].startswith("joint by joint, then from a hook to a fist. Hold for 5 seconds")


def test_what_waits_says_both_gate_and_day(clinic):
    said = waits(sheet_of(clinic, "stitched"))
    assert said["Gripping tightly"] == (
        "Wait until we have seen that the wound has closed.", "not before 3 April."
    )  # fmt: skip
    assert said["Rubbing the scar"] == (
        "Wait until all stitches are out and we have seen that the wound has closed.",
        "not before about 3 April. This may change.",
    )


def test_what_waits_for_its_day_alone_says_the_weekday(clinic):
    assert waits(sheet_of(clinic, "fresh"))["Driving"] == ("", "not before Monday 23 March.")


def test_a_day_that_has_come_is_not_said_while_a_gate_is_shut(clinic):
    said = waits(plan_sheet(clinic.episode(), today=date(2026, 4, 14)))
    assert said["Gripping tightly"] == ("Wait until we have seen that the wound has closed.", "")


def test_a_wound_found_open_again_locks_again(clinic):
    episode, today = clinic.episode(), date(2026, 4, 20)
    signed = {"by": by(clinic.therapist, today), "source": "seen"}
    findings.record(episode, kind="stitches", on=TODAY, stitches_out=4, stitches_left=0, **signed)
    findings.record(episode, kind="wound", on=TODAY, wound="closed", **signed)
    assert "Rubbing the scar" in doing(plan_sheet(episode, today=today))
    findings.record(episode, kind="wound", on=today, wound="not-closed", **signed)
    sheet = plan_sheet(episode, today=today)
    assert "Rubbing the scar" in waits(sheet) and sheet.until_closed


def test_what_the_surgeon_asked_for_is_said_as_such(clinic):
    sheet = sheet_of(clinic, "ordered")
    assert sheet.to_book[0].endswith("It should be between 5 April and 9 April. Your surgeon has asked for this.")
    assert waits(sheet)["Driving"][1] == "your surgeon has asked that this waits until Thursday 9 April."
    assert waits(sheet)["Gripping tightly"][0] == (
        "Your surgeon has asked that you wait with this. "
        "It waits also until we have seen that the wound has closed."
    )  # fmt: skip


def test_an_instruction_to_be_confirmed_may_change(clinic):
    episode, _ = CASES["ordered"](clinic)
    episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=date(2026, 3, 23))
    said = [
        *plan_sheet(episode, today=TODAY).to_book,
        *(more for _, more in waits(plan_sheet(episode, today=TODAY)).values()),
    ]
    assert sum("This may change: we will ask the surgeon again." in text for text in said) >= 2


def test_a_child_has_no_driving_and_no_work_and_the_adult_is_spoken_to(clinic):
    sheet = sheet_of(clinic, "child")
    said = text_of(paper(sheet))
    assert "For the parent or guardian of " in said and "Plan for your child's hand" in said
    assert "What your child may do now" in said and "Your child's appointments" in said
    assert "rive" not in said.replace("given", "") and "work" not in said.replace("how the hand works", "")


def test_a_thumb_makes_no_hook(clinic):
    now = doing(sheet_of(clinic, "child"))
    assert "hook" not in now["Bending the thumb gently"]


def test_the_other_finger_of_the_hand_decides_and_its_visits_stand_here_too(clinic):
    sheet = sheet_of(clinic, "two_fingers")
    assert sheet.visits[0] == "Tuesday 7 April 2026 at 09:00, Fernhollow: stitches out (right index finger)."
    until, more = waits(sheet)["Swimming and soaking the hand"]
    assert until.endswith("This is because of the right index finger.") and more.startswith("not before about")
    assert "Rubbing the scar" in doing(sheet) and sheet.until_closed


def test_without_an_operation_day_nothing_is_promised(clinic):
    said = text_of(paper(plan_sheet(clinic.episode(surgery_on=None), today=TODAY)))
    assert "we do not know the day yet" in said and "Please ask us before you start anything." in said
    assert "We will ring you about your visits." in said


def test_an_operation_still_to_come_is_said_as_such(clinic):
    said = text_of(paper(plan_sheet(clinic.episode(surgery_on=date(2026, 4, 10)), today=TODAY)))
    assert "Operation: to come on Friday 10 April 2026." in said and "day 0" not in said


def test_a_closed_episode_has_no_sheet(clinic):
    episode = clinic.episode()
    closing = {"how": "transferred", "on": TODAY, "received_by": "Another hand clinic"}
    episodes.close(episode, by=by(clinic.therapist), version=None, **closing)
    with pytest.raises(Refusal, match="closed"):
        plan_sheet(type(episode).objects.get(pk=episode.pk), today=TODAY)


def test_a_cancelled_visit_is_not_on_it(clinic):
    episode = clinic.episode()
    visit = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    appointments.end(visit, by=by(clinic.admin), outcome="cancelled-by-patient")
    assert plan_sheet(episode, today=TODAY).to_book[0].startswith("We will ring you about stitches out.")
    assert not plan_sheet(episode, today=TODAY).booked


def test_the_day_line_shows_today_the_visits_and_what_is_to_be_booked(clinic):
    days = sheet_of(clinic, "stitched").days
    assert days and (len(days.booked), [bar.maybe for bar in days.to_book]) == (2, [True])
    assert [week.said for week in days.weeks] == ["0", "2", "4", "6", "8 weeks"]
    assert days.said == "Line of days from the operation on. Today is day 12."
    # Day 12 and, booked, day 13 and day 41 of a ruler of 57 days that leaves 2 per cent at both ends.
    assert (days.today, days.booked) == ("22.21%", ("23.89%", "71.05%"))


def test_the_words_come_before_the_day_line(clinic):
    assert "<svg" in paper(sheet_of(clinic, "stitched"))
    assert "<svg" not in paper(sheet_of(clinic, "fresh"))


def test_the_day_line_of_a_long_course_has_fewer_labels_and_ends(clinic):
    sheet = plan_sheet(clinic.episode(), today=date(2027, 3, 20))
    assert sheet.days and sheet.days.anchor == "end" and len(sheet.days.weeks) <= 8


def test_the_number_of_queries_does_not_grow(clinic, django_assert_max_num_queries):
    episode, today = CASES["two_fingers"](clinic)
    with django_assert_max_num_queries(16):
        plan_sheet(episode, today=today)
