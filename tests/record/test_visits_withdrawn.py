"""A visit that was never so: everything it brought about is taken back, and stays readable."""

from datetime import date, timedelta

import pytest

from caseload.actions import appointments, episodes, findings, measurements, visits
from caseload.errors import Refusal
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Completion, Episode, Finding, Measurement, Visit
from caseload.reads import to_book
from caseload.timetable.terms import ActivityKind, AfterVisit, Lock, Outcome
from tests.record.seeing import CLOSED, FLAG, HALF, OPEN, OUT, locks, look, refused, seen
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")
PAIN = {MeasureKind.PAIN: Pain(4)}


def withdrawn(clinic, visit: Visit, today: date = TODAY) -> Visit:
    return visits.withdraw(Visit.objects.get(pk=visit.pk), by=by(clinic.therapist, today), why="other hand")


def test_what_was_found_measured_and_asked_for_stands_no_more_and_stays_readable(clinic):
    episode = clinic.episode(surgery_on=date(2026, 3, 1))
    review = {"after": AfterVisit.REVIEW, "in_days": 14}
    visit = seen(clinic, look(episode, OUT, CLOSED, FLAG, measured=PAIN, **review))
    withdrawn(clinic, visit)
    assert not Finding.objects.standing().exists() and not Measurement.objects.standing().exists()
    assert visit.findings.count() == 6 and visit.measurements.count() == 2
    assert episode.follow_ups.get(kind="set-review").state == "dropped"
    assert episode.follow_ups.get(key="stitches-out").state == "due"
    assert locks(episode, ActivityKind.TIGHT_GRIP) == (Lock.WOUND_CLOSED,)


def test_a_correction_of_what_it_found_goes_with_it(clinic):
    visit = seen(clinic, look(clinic.episode(suture="absorbable"), OPEN, measured=PAIN))
    findings.correct(visit.findings.get(), by=by(clinic.therapist), wound="closed")
    measurements.correct(visit.measurements.get(), by=by(clinic.therapist), body=Pain(2), why="mistyped")
    withdrawn(clinic, visit)
    assert not Finding.objects.standing().exists() and not Measurement.objects.standing().exists()


def test_an_earlier_look_decides_again(clinic):
    episode = clinic.episode(surgery_on=date(2026, 3, 1))
    seen(clinic, look(episode, OUT, CLOSED))
    later = TODAY + timedelta(days=1)
    visit = seen(clinic, look(episode, OPEN), on=later)
    assert locks(episode, ActivityKind.TIGHT_GRIP, later)
    withdrawn(clinic, visit, later)
    assert not locks(episode, ActivityKind.TIGHT_GRIP, later)


def test_the_walk_in_that_it_made_goes_and_what_it_carried_out_is_due_again(clinic):
    episode = clinic.episode(suture="none", technique="percutaneous")
    row = episode.follow_ups.get(key="wound-check")
    visit = seen(clinic, look(episode), meets=[row])
    assert Completion.objects.get().visit == visit
    withdrawn(clinic, visit)
    row.refresh_from_db()
    assert row.state == "due" and not Appointment.objects.exists() and not Completion.objects.exists()


def test_the_appointment_that_it_kept_waits_for_its_outcome_again_and_for_the_right_visit(clinic):
    episode = clinic.episode()
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    visit = seen(clinic, look(episode, OPEN), appointment=appointment)
    withdrawn(clinic, visit)
    appointment.refresh_from_db()
    assert (appointment.outcome, appointment.live, appointment.ended_on) == ("", True, None)
    assert appointment.purposes.get().live and appointment.seats.exists()
    right = seen(clinic, look(episode, OUT, CLOSED), appointment=appointment)
    assert right.appointment == appointment


def test_what_was_booked_elsewhere_meanwhile_is_not_booked_twice(clinic):
    episode = clinic.episode()
    row = episode.follow_ups.get(key="stitches-out")
    appointment = clinic.book([row], TODAY)
    visit = seen(clinic, look(episode, OPEN), appointment=appointment)
    clinic.book([row], date(2026, 4, 2))
    withdrawn(clinic, visit)
    assert row.purposes.filter(live=True).count() == 1


def test_attendance_that_was_recorded_before_the_visit_stays(clinic):
    episode = clinic.episode()
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.ATTENDED)
    tomorrow = TODAY + timedelta(days=1)
    visit = seen(clinic, look(episode, OPEN), today=tomorrow, appointment=appointment)
    withdrawn(clinic, visit, tomorrow)
    assert Appointment.objects.get().outcome == "attended"


def test_the_suture_that_it_corrected_is_as_it_was(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, facts={"suture": "none", "stitches_in": None}))
    assert not episode.follow_ups.filter(key="stitches-out", state="due").exists()
    withdrawn(clinic, visit)
    episode.refresh_from_db()
    assert (episode.suture, episode.stitches_in) == ("non-absorbable", 4)
    assert episode.follow_ups.get(key="stitches-out").state == "due"


def test_a_suture_corrected_once_more_since_stays(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, facts={"suture": "none", "stitches_in": None}))
    episodes.correct(episode, by=by(clinic.lead), version=None, suture="absorbable")
    withdrawn(clinic, visit)
    episode.refresh_from_db()
    assert (episode.suture, episode.stitches_in) == ("absorbable", 4)


@pytest.mark.parametrize(
    "after", [{"after": AfterVisit.DISCHARGE}, {"after": AfterVisit.REFER_BACK, "received_by": "Dr Wren"}]
)
def test_an_episode_that_it_closed_is_open_again_and_what_is_due_is_listed(clinic, after):
    episode = clinic.episode()
    clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    visit = seen(clinic, look(episode, OUT, CLOSED, **after))
    withdrawn(clinic, visit)
    episode.refresh_from_db()
    assert (episode.ended_on, episode.ended_how, episode.received_by) == (None, "", "")
    assert "stitches-out" in {row.key for row in to_book.rows(to_book.Asked(), TODAY)}


def test_an_episode_that_ended_otherwise_stays_closed(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, OPEN))
    end = {"how": "transferred", "received_by": "Another hand clinic"}
    episodes.close(episode, by=by(clinic.lead), version=None, on=TODAY, **end)
    withdrawn(clinic, visit)
    assert Episode.objects.get().ended_how == "transferred"


def test_it_is_withdrawn_once_and_with_a_reason(clinic):
    visit = seen(clinic, look(clinic.episode(), HALF, OPEN))
    assert refused(lambda: visits.withdraw(visit, by=by(clinic.therapist), why=" ")).code == "why-missing"
    withdrawn(clinic, visit)
    with pytest.raises(Refusal) as again:
        withdrawn(clinic, visit)
    assert again.value.code == "withdrawn-already"
