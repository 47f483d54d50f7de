"""A plan that fills the diary: what it asks for, what it keeps, what becomes of its lines."""

from datetime import date, timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command

from caseload.access import Act
from caseload.actions import appointments, episodes, filling, jobs
from caseload.actions.filling import say_made as say
from caseload.errors import Refusal
from caseload.models import Appointment, FillLine, FillPlan, Job, JobState, Told, TrailEntry
from caseload.reads.filling import question
from caseload.timetable.terms import Outcome
from tests.scenario import TODAY, Fernhollow, by

FIRST, LAST = TODAY + timedelta(days=1), TODAY + timedelta(days=28)


def planned(clinic: Fernhollow, first: date = FIRST, last: date = LAST) -> FillPlan:
    asked = question(first, last, today=TODAY, minute=0)
    parts = filling.in_parts(asked)
    while True:
        try:
            next(parts)
        except StopIteration as over:
            return filling.keep(over.value, asked)


def out(plan: FillPlan) -> FillLine:
    """The line of the stitches."""
    return next(line for line in plan.lines.all() if line.names[0].endswith("/stitches-out"))


@pytest.fixture
def line(clinic: Fernhollow) -> FillLine:
    """Stitches of 24 March: days 5 to 9 April, best on Tuesday the 7th."""
    clinic.session(date(2026, 4, 7))
    clinic.episode(surgery_on=date(2026, 3, 24))
    return out(planned(clinic))


def test_a_plan_keeps_for_each_visit_its_place_cost_and_reasons(clinic: Fernhollow, line: FillLine):
    assert (line.on, line.start_minute, line.minutes, line.days_late) == (date(2026, 4, 7), 540, 20, 0)
    assert line.parts == {"distance": 0, "tie": 0, "therapist": 0, "gaps": 1} and line.reasons[0] == ["target-day"]
    plan = line.plan
    assert (plan.first_on, plan.last_on, plan.cost, plan.bound, plan.could_place) == (FIRST, LAST, 0, 0, 1)
    assert not Appointment.objects.exists()


def test_who_finds_no_place_is_kept_with_why_and_with_the_first_place_after(clinic: Fernhollow):
    late = clinic.session(date(2026, 4, 14))
    clinic.episode(surgery_on=date(2026, 3, 24))
    line = out(planned(clinic))
    assert (line.why, line.session_on) == ([["no-session"]], date(2026, 4, 7))
    assert (line.session, line.on, line.days_late) == (late, late.on, 5)


def test_a_line_that_is_accepted_is_booked_untold_and_decided_once(clinic: Fernhollow, line: FillLine):
    made = filling.accept(line, by=by(clinic.admin))
    line.refresh_from_db()
    assert (made.on, made.told, line.appointment, line.decided_by) == (line.on, Told.UNTOLD, made, clinic.admin)
    with pytest.raises(Refusal) as refused:
        filling.accept(line, by=by(clinic.lead))
    assert refused.value.code == "line-decided" and Appointment.objects.count() == 1
    assert TrailEntry.objects.filter(act=Act.DIARY_FILL, patient=line.patient).count() == 1


def test_a_slot_that_is_taken_is_refused_and_the_line_says_by_whom(clinic: Fernhollow, line: FillLine):
    other = clinic.episode(surgery_on=date(2026, 3, 24)).follow_ups.get(key="stitches-out")
    appointments.book([other], by=by(clinic.admin), session=line.session, start=540)
    with pytest.raises(Refusal):
        filling.accept(line, by=by(clinic.admin))
    line.refresh_from_db()
    assert "taken meanwhile" in line.overtaken and line.appointment is None and Appointment.objects.count() == 1


def test_what_was_booked_meanwhile_is_not_booked_twice(clinic: Fernhollow, line: FillLine):
    row = line.patient.episodes.get().follow_ups.get(key="stitches-out")
    appointments.book([row], by=by(clinic.admin), session=line.session, start=560)
    with pytest.raises(Refusal) as refused:
        filling.accept(line, by=by(clinic.admin))
    assert refused.value.code == "booked-already"


def test_a_place_that_lies_outside_the_days_by_now_is_refused(clinic: Fernhollow, line: FillLine):
    episode = line.patient.episodes.get()
    episodes.correct(episode, by=by(clinic.admin), version=episode.version, surgery_on=date(2026, 3, 12))
    with pytest.raises(Refusal) as refused:
        filling.accept(line, by=by(clinic.admin))
    assert refused.value.code == "dates-changed"


def test_a_place_that_is_not_good_is_moved_with_all_that_it_serves(clinic: Fernhollow):
    episode = clinic.episode(surgery_on=date(2026, 3, 24))
    row = episode.follow_ups.get(key="stitches-out")
    clinic.session(date(2026, 4, 7))
    bad = appointments.book([row], by=by(clinic.admin), session=clinic.session(date(2026, 4, 14)), start=540)
    line = out(planned(clinic))
    assert (line.before, line.on) == (bad, date(2026, 4, 7))
    moved = filling.accept(line, by=by(clinic.admin))
    assert (moved.pk, moved.on, moved.told) == (bad.pk, date(2026, 4, 7), Told.UNTOLD)


def test_two_fingers_of_one_patient_share_a_visit_that_is_as_long_as_both(clinic: Fernhollow):
    patient = clinic.patient()
    for digit in ("ring", "index"):
        clinic.episode(patient, surgery_on=date(2026, 3, 24), digit=digit)
    clinic.session(date(2026, 4, 7))
    line = out(planned(clinic))
    assert (len(line.names), line.minutes) == (2, 40)
    assert filling.accept(line, by=by(clinic.admin)).purposes.count() == 2


def test_a_day_on_which_the_patient_comes_already_is_not_taken_twice(clinic: Fernhollow):
    patient = clinic.patient()
    first = clinic.episode(patient, surgery_on=date(2026, 3, 24), digit="ring").follow_ups.get(key="stitches-out")
    clinic.book([first], date(2026, 4, 7))
    clinic.episode(patient, surgery_on=date(2026, 3, 24), digit="index")
    clinic.session(date(2026, 4, 8))
    assert out(planned(clinic)).on == date(2026, 4, 8)


def test_what_was_cancelled_is_asked_for_again(clinic: Fernhollow, line: FillLine):
    booked = filling.accept(line, by=by(clinic.admin))
    assert not any(line.names == each.names for each in planned(clinic).lines.all())
    appointments.end(booked, by=by(clinic.admin), outcome=Outcome.CANCELLED_BY_PATIENT)
    assert out(planned(clinic)).names == line.names


def test_the_work_behind_the_page_makes_one_plan_however_often_it_is_run(clinic: Fernhollow):
    clinic.session(date(2026, 4, 7))
    clinic.episode(surgery_on=date(2026, 3, 24))
    with time_machine.travel(by().at, tick=False):
        job = filling.ask(by=by(clinic.admin), first=FIRST, last=date(2026, 4, 8))
        for _ in range(2):
            Job.objects.filter(pk=job.pk).update(ended_at=None, state=JobState.WAITING, claimed_until=None)
            assert jobs.run_job(job.pk)
    job.refresh_from_db()
    assert out(FillPlan.objects.get(job=job)).on == date(2026, 4, 7)
    assert job.answer == say(FillPlan.objects.get())


def test_a_run_that_has_lost_its_job_leaves_no_plan(clinic: Fernhollow):
    with time_machine.travel(by().at, tick=False):
        job = filling.ask(by=by(clinic.admin), first=FIRST, last=LAST)
        steps = filling.run(job)
        next(steps)
        Job.objects.filter(pk=job.pk).update(tries=job.tries + 1)
        with pytest.raises(jobs.TakenOver):
            list(steps)
    assert not FillPlan.objects.exists()


def test_work_that_begins_after_its_days_says_so(clinic: Fernhollow):
    job = filling.ask(by=by(clinic.admin), first=FIRST, last=LAST)
    with time_machine.travel(by().at + timedelta(days=60), tick=False):
        assert jobs.run_job(job.pk)
    job.refresh_from_db()
    assert "over before it began" in job.answer and not FillPlan.objects.exists()


def test_a_line_without_a_place_can_not_be_accepted_and_stays_as_it_is(clinic: Fernhollow):
    clinic.episode(surgery_on=date(2026, 3, 24))
    line = out(planned(clinic))
    with pytest.raises(Refusal) as refused:
        filling.accept(line, by=by(clinic.admin))
    line.refresh_from_db()
    assert refused.value.code == "no-place" and line.overtaken == ""


@pytest.mark.parametrize(
    ("first", "last", "code"),
    [(5, 4, "days-backwards"), (-1, 4, "day-past"), (1, 90, "too-long"), (2000, 2004, "beyond-holidays")],
)
def test_days_that_can_not_be_planned_are_refused_with_what_would_be_right(clinic: Fernhollow, first, last, code):
    with pytest.raises(Refusal) as refused:
        filling.ask(by=by(clinic.admin), first=TODAY + timedelta(days=first), last=TODAY + timedelta(days=last))
    assert refused.value.code == code


def test_the_command_books_nothing_and_dry_writes_nothing(clinic: Fernhollow):
    said = [StringIO(), StringIO()]
    call_command("fill", "--dry-run", stdout=said[0])
    assert said[0].getvalue() == "0 of 0 follow-ups have a place, 0 have none; proven the best. Nothing was written.\n"
    assert not FillPlan.objects.exists()
    call_command("fill", stdout=said[1])
    assert f"To be looked at: /fill/{FillPlan.objects.get().code}/" in said[1].getvalue()


def test_the_command_says_what_is_wrong_with_its_days(clinic: Fernhollow):
    with pytest.raises(CommandError, match="The first day is over"):
        call_command("fill", "--from", "2020-01-01", "--to", "2020-01-02")
    with pytest.raises(CommandError, match="invalid day such as"):
        call_command("fill", "--from", "soon")
