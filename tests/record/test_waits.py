"""Waits as rows: kept equal to the record by every act, however it comes about."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, episodes, findings, instructions, referrals, undoing, visits
from caseload.actions.act import By
from caseload.actions.rederive import rederive
from caseload.actions.settle import together
from caseload.models import Episode, FollowUp, Referral, Wait
from caseload.timetable.terms import AfterVisit, Ending, Outcome
from tests.scenario import TODAY, Fernhollow, by

pytestmark = pytest.mark.usefixtures("settled")
RECEIVED = date(2026, 3, 2)


def referred(clinic: Fernhollow, **said: Any) -> Episode:
    """An episode whose referral was received on 2 March and recorded on the day of surgery, 20 March."""
    patient, recorder = clinic.patient(), by(clinic.admin, date(2026, 3, 20))
    own = {"received_on": RECEIVED, "source": "hand surgery"} | said
    return clinic.episode(patient, today=recorder.today, referral=referrals.add(patient, by=recorder, **own))


def out(episode: Episode) -> FollowUp:
    return episode.follow_ups.get(key="stitches-out")


def of(row: Episode | Referral, key: str) -> Wait:
    return Wait.objects.get(**{row._meta.model_name: row}, key=key)


def stood(row: Episode | Referral, key: str) -> tuple[str, date | None]:
    wait = of(row, key)
    return wait.ended, wait.stopped_on


def seen(clinic: Fernhollow, episode: Episode, *, on: date = TODAY, **found: Any) -> Any:
    look = visits.Look(episode, AfterVisit.CONTINUE, **found)
    return visits.record(episode.patient, by=by(clinic.therapist), on=on, looks=[look])


def test_an_episode_waits_for_stitches_and_wound_from_its_surgery(clinic):
    episode = clinic.episode()
    wait = of(episode, "stitches-out")
    assert (wait.started_on, wait.earliest_on, wait.target_on, wait.due_on) == (
        date(2026, 3, 20), date(2026, 4, 1), date(2026, 4, 3), date(2026, 4, 5),
    )  # fmt: skip
    assert of(episode, "wound-closed").due_on == date(2026, 4, 10)
    assert (wait.site, wait.therapist, wait.suture) == (clinic.site, clinic.therapist, "non-absorbable")


def test_a_referral_waits_until_somebody_is_seen_and_again_when_that_is_withdrawn(clinic):
    episode = referred(clinic, priority="urgent")
    assert of(episode.referral, "first-visit").due_on == date(2026, 3, 9)
    visit = seen(clinic, episode)
    assert stood(episode.referral, "first-visit") == ("seen", TODAY)
    visits.withdraw(visit, by=by(clinic.therapist), why="another patient")
    assert stood(episode.referral, "first-visit") == ("waiting", None)
    assert of(episode, "wound-closed").priority == "urgent"


def test_a_booking_that_is_taken_back_was_no_offer(clinic):
    episode = referred(clinic)
    appointment = clinic.book([out(episode)], date(2026, 4, 2))
    assert stood(episode.referral, "appointment-offered") == ("seen", TODAY)
    undoing.undo(appointment, by=by(clinic.admin))
    assert stood(episode.referral, "appointment-offered") == ("waiting", None)


def test_an_appointment_is_offered_on_the_local_day_of_its_booking(clinic):
    episode = referred(clinic)
    late = By(clinic.admin, datetime(2026, 3, 30, 23, 30, tzinfo=UTC), date(2026, 3, 31))
    clinic.book([out(episode)], date(2026, 4, 2), today=late.today, by=late)
    assert of(episode.referral, "appointment-offered").stopped_on == date(2026, 3, 31)


def test_a_missed_first_visit_is_kept_with_the_day_of_the_next_booking(clinic):
    episode = referred(clinic)
    missed = clinic.book([out(episode)], TODAY)
    appointments.end(missed, by=by(clinic.admin), outcome=Outcome.DID_NOT_ATTEND)
    wait = of(episode.referral, "first-visit")
    assert (wait.missed_on, wait.restarted_on) == (TODAY, None)
    clinic.book([out(episode)], date(2026, 4, 8), today=date(2026, 4, 2))
    assert of(episode.referral, "first-visit").restarted_on == date(2026, 4, 2)


def test_stitches_found_later_make_the_clock_run_again(clinic):
    episode = clinic.episode()
    said = {"kind": "stitches", "on": TODAY, "source": "seen", "confirmed_full": True}
    seen(clinic, episode, findings=[
        {"kind": "stitches", "stitches_out": 4, "stitches_left": 0}, {"kind": "wound", "wound": "closed"},
    ])  # fmt: skip
    assert stood(episode, "stitches-out") == stood(episode, "wound-closed") == ("seen", TODAY)
    findings.record(episode, by=by(clinic.therapist), stitches_out=0, stitches_left=1, **said)
    assert stood(episode, "stitches-out") == stood(episode, "wound-closed") == ("waiting", None)


def test_a_wound_that_opens_again_starts_a_clock_of_its_own(clinic):
    episode = clinic.episode(suture="absorbable")
    closed = {"kind": "wound", "source": "seen", "wound": "closed"}
    findings.record(episode, by=by(clinic.therapist), on=date(2026, 3, 30), **closed)
    again = findings.record(episode, by=by(clinic.therapist), on=TODAY, **(closed | {"wound": "concern"}))
    key = f"wound-closed:{again.ref}"
    assert stood(episode, "wound-closed") == ("seen", date(2026, 3, 30))
    assert (of(episode, key).started_on, of(episode, key).ended) == (TODAY, "waiting")
    findings.withdraw(again, by=by(clinic.therapist), why="another hand")
    assert not Wait.objects.filter(key=key).exists()


def test_what_the_surgeon_ordered_moves_the_window(clinic):
    episode = clinic.episode(suture="absorbable")
    assert not Wait.objects.filter(clock="stitches-out").exists()
    days = {"earliest": 16, "target": 18, "latest": 21}
    instructions.give(episode, by=by(clinic.lead), item="stitches-out", by_whom="Surgeon", why="thin skin", **days)
    assert of(episode, "stitches-out").due_on == date(2026, 4, 10)


def test_an_operation_that_was_not_done_was_no_wait(clinic):
    episode = referred(clinic)
    episodes.close(episode, by=by(clinic.therapist), version=None, how=Ending.NOT_DONE, on=TODAY)
    assert not Wait.objects.filter(episode=episode).exists()
    assert stood(episode.referral, "first-visit") == ("operation-not-done", TODAY)


def test_a_patient_who_died_waits_no_more(clinic):
    episode = referred(clinic)
    episodes.close(episode, by=by(clinic.therapist), version=None, how=Ending.DIED, on=TODAY)
    assert {(wait.ended, wait.stopped_on) for wait in Wait.objects.all()} == {("died", TODAY)}


def test_acts_that_are_carried_out_together_leave_the_same_waits(clinic):
    with together():
        episode = referred(clinic)
        assert not Wait.objects.exists()
        episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=date(2026, 3, 21))
    assert of(episode, "wound-closed").started_on == date(2026, 3, 21)
    assert Wait.objects.count() == 4


def test_a_booking_without_a_referral_asks_once_more_and_with_one_at_most_four_times(clinic):
    clinic.session(date(2026, 4, 2))
    lock = connection.vendor == "postgresql"
    assert queries_on_waits(clinic, clinic.episode()) == 1 + lock
    assert queries_on_waits(clinic, referred(clinic)) == 4 + lock


def queries_on_waits(clinic: Fernhollow, episode: Episode) -> int:
    """How many more queries a booking takes than one that looks after no waits."""
    row, asked = out(episode), []
    for without in (True, False):
        with CaptureQueriesContext(connection) as found, pytest.MonkeyPatch.context() as patch:
            if without:
                patch.setattr("caseload.actions.waits.keep", lambda *_: None)
            appointment = clinic.book([row], date(2026, 4, 2))
        asked.append(len(found))
        undoing.undo(appointment, by=by(clinic.admin))
    return asked[1] - asked[0]


def test_drift_of_waits_is_reported_and_mended(clinic, settings):
    episode = clinic.episode()
    settings.WAIT_TARGETS = settings.WAIT_TARGETS | {"wound_closed": 28}
    drift = rederive(by=by(), mend=False)
    assert drift.moved[episode.patient.code]["wait wound-closed"][1].endswith("due 2026-04-17")
    assert "Waits of 1 patients found" in drift.sentence(mended=False)
    rederive(by=by())
    assert of(episode, "wound-closed").due_on == date(2026, 4, 17)
    settings.WAIT_TARGETS = settings.WAIT_TARGETS | {"wound_closed": 21}
    Wait.objects.all().delete()
    rederive(by=by())
    assert of(episode, "wound-closed").due_on == date(2026, 4, 10)
