"""What a visit leads to: the next step, the appointment that it kept, and what it changes in the diary."""

from datetime import date, timedelta

import pytest

from caseload.actions import appointments
from caseload.models import Episode, UndoStep
from caseload.reads import to_book
from caseload.reads.needless import needless
from caseload.timetable.terms import AfterVisit, Outcome, Way
from tests.record.seeing import CLOSED, FLAG, HALF, OPEN, OUT, look, refused, seen
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")


# What is next


def test_a_review_in_so_many_days_is_a_follow_up_of_the_visit(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, OPEN, after=AfterVisit.REVIEW, in_days=14, minutes=40))
    row = episode.follow_ups.get(kind="set-review")
    assert (row.target_on, row.minutes, row.state) == (date(2026, 4, 15), 40, "due")
    assert visit.examined.get().review.in_days == 14


@pytest.mark.parametrize(
    ("said", "code", "field"),
    [
        ({"after": AfterVisit.REVIEW}, "review-days", "in_days"),
        ({"after": AfterVisit.DISCHARGE}, "stitches-in", "how"),
        ({"after": AfterVisit.REFER_BACK}, "receiver-missing", "received_by"),
    ],
)
def test_a_next_step_that_cannot_be_takes_the_whole_visit_back(clinic, said, code, field):
    episode = clinic.episode()
    refusal = refused(lambda: seen(clinic, look(episode, HALF, CLOSED, **said)))
    assert (refusal.code, refusal.details["field"], refusal.details["episode"]) == (code, field, episode.code)
    assert Episode.objects.get(pk=episode.pk).ended_on is None


def test_a_red_flag_of_the_same_visit_keeps_the_episode_open(clinic):
    episode = clinic.episode()
    discharged = look(episode, OUT, CLOSED, FLAG, after=AfterVisit.DISCHARGE)
    assert refused(lambda: seen(clinic, discharged)).code == "red-flag-open"


def test_stitches_out_wound_closed_and_discharged_in_one_visit(clinic):
    episode = clinic.episode()
    seen(clinic, look(episode, OUT, CLOSED, after=AfterVisit.DISCHARGE))
    episode.refresh_from_db()
    assert (episode.ended_how, episode.ended_on) == ("discharged", TODAY)
    assert not episode.follow_ups.filter(state="due").exists()


def test_who_is_referred_back_goes_to_somebody(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, OPEN, after=AfterVisit.REFER_BACK, received_by="Dr Wren"))
    episode.refresh_from_db()
    assert (episode.ended_how, episode.received_by) == ("referred-back", "Dr Wren")
    assert visit.examined.get().received_by == "Dr Wren"


# Who came


def test_somebody_who_came_without_appointment_is_a_walk_in(clinic):
    episode = clinic.episode(suture="absorbable")
    visit = seen(clinic, look(episode, CLOSED), meets=[episode.follow_ups.get(key="wound-check")])
    assert (visit.appointment.walk_in, visit.appointment.outcome) == (True, "attended")


def test_a_visit_of_another_day_or_from_afar_makes_no_walk_in(clinic):
    episode = clinic.episode(suture="none", technique="percutaneous")
    row = episode.follow_ups.get(key="wound-check")
    visit = seen(clinic, look(episode), on=TODAY - timedelta(days=1), today=TODAY, meets=[row])
    row.refresh_from_db()
    assert visit.appointment is None and row.done_on == TODAY - timedelta(days=1)


def test_what_has_to_be_seen_is_not_met_from_afar(clinic):
    episode = clinic.episode(suture="absorbable")
    seen(clinic, look(episode, {"kind": "trim-needed"}, CLOSED))
    row = episode.follow_ups.get(key="wound-check")
    refusal = refused(lambda: seen(clinic, look(episode), source="photo", meets=[row]))
    assert (refusal.code, refusal.details["field"]) == ("needs-in-person", "meets")


def kept(clinic, on=TODAY, **facts):
    episode = clinic.episode(**facts)
    return episode, clinic.book([episode.follow_ups.get(key="stitches-out")], on)


def test_an_appointment_is_attended_by_its_visit_and_not_taken_back_with_one_press(clinic):
    episode, appointment = kept(clinic)
    visit = seen(clinic, look(episode, OUT, CLOSED), appointment=appointment, version=appointment.version)
    appointment.refresh_from_db()
    assert (visit.appointment, appointment.outcome) == (appointment, "attended")
    assert not UndoStep.objects.filter(appointment=appointment).exists()
    again = refused(lambda: seen(clinic, look(episode), appointment=appointment))
    assert again.code == "recorded-already"


def test_an_appointment_that_was_recorded_as_attended_gets_its_visit_later(clinic):
    episode, appointment = kept(clinic)
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.ATTENDED)
    assert seen(clinic, look(episode, OUT, CLOSED), appointment=appointment).appointment == appointment


def test_an_appointment_of_another_day_or_patient_or_one_that_was_missed_is_not_kept(clinic):
    episode, appointment = kept(clinic)
    other = clinic.episode()
    tomorrow = TODAY + timedelta(days=1)
    refusal = refused(lambda: seen(clinic, look(episode, OPEN), on=tomorrow, appointment=appointment))
    assert (refusal.code, refusal.details["field"]) == ("other-day", "on")
    assert refused(lambda: seen(clinic, look(other), appointment=appointment)).code == "other-patient"
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.DID_NOT_ATTEND)
    assert refused(lambda: seen(clinic, look(episode), appointment=appointment)).code == "not-attended"


def test_an_appointment_that_moved_meanwhile_is_looked_at_again(clinic):
    episode, appointment = kept(clinic)
    appointments.tell(appointment, by=by(clinic.admin), told="message-left")
    stale = appointment.version - 1
    refusal = refused(lambda: seen(clinic, look(episode), appointment=appointment, version=stale))
    assert refusal.code == "changed-meanwhile"


def test_nothing_is_seen_by_telephone(clinic):
    episode = clinic.episode(suture="absorbable", surgery_on=date(2026, 3, 20))
    clinic.session(TODAY, ways=[Way.TELEPHONE, Way.IN_PERSON])
    row = episode.follow_ups.get(key="wound-check")
    appointment = clinic.book([row], TODAY, way=Way.TELEPHONE)
    refusal = refused(lambda: seen(clinic, look(episode, CLOSED), appointment=appointment))
    assert (refusal.code, refusal.details["field"]) == ("not-in-person", "source")
    seen(clinic, look(episode, CLOSED), appointment=appointment, source="patient")


# What it changes in the diary


def test_a_booking_that_does_not_fit_any_more_is_on_the_booking_list_at_once(clinic):
    episode = clinic.episode()
    clinic.book([episode.follow_ups.get(key="therapy-review")], date(2026, 4, 30))
    listed = {row.key: row.booked_on for row in to_book.rows(to_book.Asked(), TODAY)}
    assert "therapy-review" not in listed
    seen(clinic, look(episode, OUT, CLOSED))
    listed = {row.key: row.booked_on for row in to_book.rows(to_book.Asked(), TODAY)}
    assert listed["therapy-review"] == date(2026, 4, 30), "seven to 21 days after the stitches are out"


def test_a_booking_that_nothing_is_left_for_is_named(clinic):
    episode, appointment = kept(clinic, on=date(2026, 4, 2))
    seen(clinic, look(episode, HALF, OPEN))
    assert needless(episode.patient_id, TODAY) == [appointment]
    assert {"stitches-recheck", "wound-recheck"} <= {row.kind for row in to_book.rows(to_book.Asked(), TODAY)}
