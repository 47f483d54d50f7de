"""How an episode ends: what it takes, what it carries with it, and that nobody is lost between two episodes."""

from datetime import date, timedelta

import pytest

from caseload.access import Act
from caseload.actions import appointments, episodes, findings, referrals
from caseload.models import Appointment, Episode, Finding, TrailEntry
from caseload.reads import to_book
from caseload.reads.untold import untold
from caseload.timetable.terms import Ending
from tests.record.seeing import CLOSED, FLAG, HALF, OPEN, OUT, look, refused, seen
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")


def close(clinic, episode, how, **said):
    own = {"by": by(clinic.lead), "version": None, "on": TODAY}
    return episodes.close(episode, how=how, **(own | said))


def again(clinic, old, **said):
    own = {"by": by(clinic.lead), "version": None, "on": TODAY, "site": clinic.site, "suture": "non-absorbable",
           "side": old.side, "digit": old.digit, "surgery_on": TODAY}  # fmt: skip
    return episodes.reoperate(old, **(own | said))


def nothing_due(episode) -> bool:
    listed = {row.code for row in to_book.rows(to_book.Asked(), TODAY)}
    due = episode.follow_ups.filter(state="due").exists() or episode.standings.exists()
    return not due and episode.code not in listed and not episode.next_kind


# Whatever the end


@pytest.mark.parametrize(
    "how", [Ending.TRANSFERRED, Ending.REFERRED_BACK, Ending.DIED, Ending.NOT_DONE, Ending.DISCHARGED]
)
def test_nothing_due_of_a_closed_episode_stays_anywhere(clinic, how):
    episode = clinic.episode(suture="absorbable")
    clinic.book([episode.follow_ups.get(key="wound-check")], date(2026, 4, 2))
    close(clinic, episode, how, received_by="Another hand clinic")
    episode.refresh_from_db()
    assert nothing_due(episode) and not Appointment.objects.filter(live=True).exists()
    assert not Appointment.objects.get().seats.exists()


def test_an_appointment_that_also_serves_another_episode_stays_for_that_one(clinic):
    ring = clinic.episode()
    index = clinic.episode(ring.patient, digit="index")
    both = [row.follow_ups.get(key="stitches-out") for row in (ring, index)]
    appointment = clinic.book(both, date(2026, 4, 2))
    close(clinic, ring, Ending.TRANSFERRED, received_by="Another hand clinic")
    appointment.refresh_from_db()
    assert (appointment.live, appointment.outcome, appointment.told) == (True, "", "told")
    assert appointment.purposes.get(live=True).follow_up.episode == index
    close(clinic, index, Ending.TRANSFERRED, received_by="Another hand clinic")
    appointment.refresh_from_db()
    assert (appointment.live, appointment.told) == (False, "untold")


def test_a_day_that_passed_without_an_outcome_is_not_called_cancelled(clinic):
    episode = clinic.episode()
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    tomorrow = TODAY + timedelta(days=1)
    received = {"on": tomorrow, "by": by(clinic.lead, tomorrow), "received_by": "Another hand clinic"}
    close(clinic, episode, Ending.TRANSFERRED, **received)
    appointment.refresh_from_db()
    assert (appointment.outcome, appointment.told) == ("", "told")
    appointments.end(appointment, by=by(clinic.admin, tomorrow), outcome="did-not-attend")


@pytest.mark.parametrize("how", [Ending.TRANSFERRED, Ending.REFERRED_BACK])
def test_who_goes_elsewhere_goes_to_somebody(clinic, how):
    episode = clinic.episode()
    assert refused(lambda: close(clinic, episode, how, received_by=" ")).code == "receiver-missing"


def test_two_who_close_at_once_close_it_once(clinic):
    episode = clinic.episode()
    stale = Episode.objects.get(pk=episode.pk)
    close(clinic, episode, Ending.TRANSFERRED, received_by="Another hand clinic")
    assert refused(lambda: close(clinic, stale, Ending.DIED)).code == "closed-already"


# Not done


def test_an_operation_that_was_not_done_leaves_room_for_the_real_one(clinic):
    episode = clinic.episode()
    close(clinic, episode, Ending.NOT_DONE)
    assert clinic.episode(episode.patient).surgery_on == episode.surgery_on


def test_an_operation_whose_stitches_came_out_was_done(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, HALF, OPEN))
    assert refused(lambda: close(clinic, episode, Ending.NOT_DONE)).code == "operation-was-done"
    for finding in visit.findings.all():
        findings.withdraw(finding, by=by(clinic.therapist), why="other hand")
    close(clinic, episode, Ending.NOT_DONE)


# Died


def test_after_a_death_everything_is_closed_and_nobody_is_to_be_told(clinic):
    referral = referrals.add(clinic.patient(), by=by(), received_on=TODAY - timedelta(days=40), source="hand surgery")
    ring = clinic.episode(referral.patient, referral=referral, surgery_on=date(2026, 2, 20))
    index = clinic.episode(ring.patient, digit="index")
    planned = clinic.episode(ring.patient, side="left", surgery_on=date(2026, 4, 20))
    clinic.book([index.follow_ups.get(key="stitches-out")], date(2026, 4, 2), told="untold")
    moved = clinic.book([ring.follow_ups.get(key="outcome-review")], date(2026, 4, 7))
    appointments.end(moved, by=by(clinic.admin), outcome="cancelled-by-clinic")
    assert len(untold(TODAY)) == 2
    close(clinic, ring, Ending.DIED)
    assert not Appointment.objects.filter(live=True).exists()
    assert not Appointment.objects.filter(untold_since_on__isnull=False).exists() and untold(TODAY) == []
    for episode in (ring, index, planned):
        episode.refresh_from_db()
        assert episode.ended_how == "died" and nothing_due(episode)
    referral.refresh_from_db()
    assert (referral.ended_how, referral.ended_on) == ("died", TODAY)


def test_a_death_closes_no_other_patients_episodes(clinic):
    other = clinic.episode()
    close(clinic, clinic.episode(), Ending.DIED)
    assert Episode.objects.open().get() == other


# Operated on again


def test_the_next_episode_and_the_end_of_the_old_one_are_one_act(clinic):
    old = clinic.episode()
    booked = clinic.book([old.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    new = again(clinic, old)
    old.refresh_from_db()
    booked.refresh_from_db()
    assert (new.reoperation_of, old.ended_how, old.ended_on) == (old, "reoperation", TODAY)
    assert nothing_due(old) and not booked.live and new.follow_ups.filter(state="due").exists()
    assert TrailEntry.objects.filter(act=Act.EPISODE_REOPERATE, subject_id=new.pk).exists()


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"surgery_on": date(2026, 4, 2)}, "reoperation-to-come"),
        ({"surgery_on": date(2026, 3, 1)}, "reoperation-before"),
        ({"surgery_on": date(2026, 3, 20)}, "episode-known"),
        ({"digit": "index"}, "other-digit"),
        ({"side": "left"}, "other-digit"),
        ({"on": date(2026, 3, 19)}, "closed-before-surgery"),
        ({"version": 7}, "changed-meanwhile"),
    ],
)
def test_a_second_operation_that_cannot_be_leaves_the_old_episode_open(clinic, said, code):
    old = clinic.episode()
    assert refused(lambda: again(clinic, old, **said)).code == code
    assert Episode.objects.open().get() == old


def test_nobody_is_closed_for_a_second_operation_that_has_no_episode(clinic):
    old = clinic.episode()
    assert refused(lambda: close(clinic, old, Ending.REOPERATION)).code == "reoperation-opens"
    clinic.episode(old.patient, surgery_on=date(2026, 4, 9))
    assert refused(lambda: close(clinic, old, Ending.REOPERATION)).code == "reoperation-opens", "only planned"


def test_one_that_a_theatre_list_opened_is_linked_when_the_old_one_closes(clinic):
    old = clinic.episode()
    new = clinic.episode(old.patient, surgery_on=date(2026, 3, 30))
    close(clinic, old, Ending.REOPERATION)
    new.refresh_from_db()
    assert new.reoperation_of == old and Episode.objects.open().get() == new


# A discharge that rested on a mistake


def discharged(clinic, *found):
    episode = clinic.episode()
    seen(clinic, look(episode, *found))
    close(clinic, episode, Ending.DISCHARGED)
    return episode


def test_a_discharge_falls_with_the_removal_that_it_rested_on(clinic):
    episode = discharged(clinic, OUT, CLOSED)
    findings.withdraw(Finding.objects.get(kind="stitches"), by=by(clinic.therapist), why="other hand")
    episode.refresh_from_db()
    assert episode.ended_on is None and episode.follow_ups.get(key="stitches-out").state == "due"
    entry = TrailEntry.objects.filter(act=Act.FINDING_CORRECT).latest("pk")
    assert entry.changed["ended_how"] == ["discharged", ""]


def test_a_discharge_falls_with_the_facts_that_it_rested_on(clinic):
    episode = discharged(clinic, OUT, CLOSED)
    episodes.correct(episode, by=by(clinic.admin), version=None, surgeon="Dr Vane")
    assert Episode.objects.get().ended_how == "discharged"
    episodes.correct(episode, by=by(clinic.admin), version=None, stitches_in=6)
    assert Episode.objects.get().ended_on is None, "two stitches are not accounted for"


def test_another_end_and_a_finding_that_does_not_matter_leave_it_closed(clinic):
    episode = discharged(clinic, OUT, CLOSED)
    findings.withdraw(Finding.objects.get(kind="wound"), by=by(clinic.therapist), why="other hand")
    assert Episode.objects.get().ended_how == "discharged"
    other = clinic.episode()
    seen(clinic, look(other, OUT, CLOSED, FLAG))
    close(clinic, other, Ending.TRANSFERRED, received_by="Another hand clinic")
    findings.withdraw(other.findings.get(kind="stitches"), by=by(clinic.therapist), why="other hand")
    episode = Episode.objects.get(pk=other.pk)
    assert episode.ended_how == "transferred"


# Open again, where it was a mistake


def open_again(clinic, episode, **said):
    return episodes.reopen(episode, **({"by": by(clinic.therapist), "version": None, "why": "wrong patient"} | said))


@pytest.mark.parametrize("how", [Ending.TRANSFERRED, Ending.REFERRED_BACK, Ending.NOT_DONE, Ending.DIED])
def test_an_episode_closed_by_mistake_is_open_again_with_all_that_is_due(clinic, how):
    episode = clinic.episode()
    due = set(episode.follow_ups.filter(state="due").values_list("key", "latest_on"))
    close(clinic, episode, how, received_by="Another hand clinic")
    open_again(clinic, episode)
    episode.refresh_from_db()
    assert (episode.ended_on, episode.ended_how, episode.received_by) == (None, "", "")
    assert set(episode.follow_ups.filter(state="due").values_list("key", "latest_on")) == due
    assert episode.code in {row.code for row in to_book.rows(to_book.Asked(), TODAY)}
    assert TrailEntry.objects.get(act=Act.EPISODE_REOPEN).changed["reopened_why"] == ["", "wrong patient"]


def test_whoever_was_said_to_have_died_has_everything_again_and_is_told_what_was_cancelled(clinic):
    patient = clinic.patient()
    referral = referrals.add(patient, by=by(clinic.admin), received_on=date(2026, 3, 21))
    ring, index = clinic.episode(patient, referral=referral), clinic.episode(patient, digit="index")
    earlier = clinic.episode(patient, digit="thumb")
    close(clinic, earlier, Ending.TRANSFERRED, received_by="Another hand clinic")
    clinic.book([ring.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
    close(clinic, index, Ending.DIED)
    assert untold(TODAY) == [] and not patient.episodes.open().exists()
    open_again(clinic, index)
    assert set(patient.episodes.open()) == {ring, index}
    assert [each.appointment.outcome for each in untold(TODAY)] == ["cancelled-by-clinic"]
    referral.refresh_from_db()
    assert (referral.ended_on, referral.ended_how) == (None, "")


def test_what_cannot_be_opened_again_says_why(clinic):
    episode = clinic.episode()
    assert refused(lambda: open_again(clinic, episode)).code == "not-closed"
    later = again(clinic, episode)
    assert refused(lambda: open_again(clinic, episode)).code == "operated-again"
    close(clinic, later, Ending.NOT_DONE)
    assert refused(lambda: open_again(clinic, episode, why=" ")).code == "why-missing"
    open_again(clinic, episode)
    assert Episode.objects.open().get() == episode
