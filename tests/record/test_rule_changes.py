"""Rules changed by the lead: a copy, what it would do, two signatures, and who is moved."""

from datetime import date, timedelta

import pytest

from caseload.actions import episodes, jobs, rule_changes, rule_jobs
from caseload.actions.rederive import rederive
from caseload.actions.rule_changes import Surgeon
from caseload.actions.service import load_rules, load_shipped
from caseload.models import Episode, RuleChange, RuleSet, Staff, Standing, TrailEntry
from caseload.reads.rules import in_force
from caseload.reads.timetables import timetables_under, with_sources
from caseload.timetable.effect import Effect
from caseload.timetable.rules import RuleSet as Rules
from caseload.timetable.terms import Ending
from caseload.timetable.versions import revised
from tests.record.at_once import at_once
from tests.record.refusing import refused
from tests.scenario import TODAY, Fernhollow, by, fernhollow, written
from tests.timetable.builders import effect_of

LATEST = "follow_ups.0.latest"


@pytest.fixture
def second(clinic: Fernhollow) -> Staff:
    return Staff.objects.create(username="sten", name="Sten Marsh", password=None, is_lead=True)


@pytest.fixture
def change(clinic: Fernhollow) -> RuleChange:
    made = rule_changes.propose(clinic.rules, by=by(clinic.lead), why="agreed with the surgeons")
    return rule_changes.change_counts(made, by=by(clinic.lead), version=1, numbers={LATEST: 15})


def counted(change: RuleChange, clinic: Fernhollow) -> RuleChange:
    job = rule_changes.ask_effect(change, by=by(clinic.lead))
    assert jobs.run_job(job.pk)
    change.refresh_from_db()
    return change


def after(days: int) -> date:
    return TODAY + timedelta(days=days)


def test_a_copy_changes_nothing_in_force(clinic, change):
    assert RuleSet.objects.get() == clinic.rules and clinic.rules.body["follow_ups"][0]["latest"] == 16
    assert change.body["follow_ups"][0]["latest"] == 15


def test_a_number_that_cannot_be_is_refused_and_the_copy_stays(clinic, change):
    bad = {"follow_ups.0.target": 20}
    assert refused(lambda: rule_changes.change_counts(change, by=by(clinic.lead), version=2, numbers=bad))
    assert RuleChange.objects.get().body["follow_ups"][0]["target"] == 14


def test_two_who_edit_one_copy_do_not_overwrite_each_other(clinic, change):
    late = lambda: rule_changes.change_counts(change, by=by(clinic.lead), version=1, numbers={LATEST: 17})  # noqa: E731
    assert refused(late) == "changed-meanwhile"


def test_what_it_would_do_is_what_deriving_under_the_copy_gives(clinic, change):
    """By hand: the latest day goes from 16 to 15. Today is day 14, 15, 16 and 17 of four; the one of day 16 is late at
    once; the one of day 15 is booked on day 16, which falls outside; a fifth has no stitches."""
    held = [clinic.episode(surgery_on=after(-day)) for day in (14, 15, 16, 17)]
    clinic.book(list(held[1].follow_ups.filter(key="stitches-out")), after(1))
    clinic.episode(suture="none", stitches_in=None)
    kept = Effect.from_json(counted(change, clinic).effect)
    rows = list(with_sources(Episode.objects.open()))
    assert kept == effect_of(timetables_under(rows, Rules.from_json(change.body)), TODAY)
    assert (kept.looked_at, kept.moved, kept.late, kept.in_time, kept.outside) == (5, 4, 1, 0, 1)
    assert kept.days == {"stitches-out": {0: 4}} and kept.alerts == 0 and not kept.added | kept.dropped | kept.locks


def test_an_edit_makes_what_was_counted_void(clinic, change, second):
    counted(change, clinic)
    rule_changes.change_counts(change, by=by(clinic.lead), version=2, numbers={LATEST: 17})
    sign = lambda: rule_changes.sign(change, by=by(second), version=3)  # noqa: E731
    assert change.effect is None and refused(sign) == "effect-missing"


def test_what_was_counted_on_another_day_is_counted_again(clinic, change, second):
    counted(change, clinic)
    tomorrow = by(second, TODAY + timedelta(days=1))
    assert refused(lambda: rule_changes.sign(change, by=tomorrow, version=2)) == "effect-missing"


def test_nobody_signs_alone(clinic, change):
    counted(change, clinic)
    assert refused(lambda: rule_changes.sign(change, by=by(clinic.lead), version=2)) == "second-missing"
    tomorrow = {"by": by(clinic.lead), "version": 2, "surgeon": Surgeon("Miss R. Lanyon", "letter", after(1))}
    assert refused(lambda: rule_changes.sign(change, **tomorrow)) == "signed-in-future"
    assert RuleSet.objects.get().retired_at is None


def test_signed_by_a_second_lead_it_is_in_force_for_new_episodes_only(clinic, change, second):
    held = clinic.episode()
    signed = rule_changes.sign(counted(change, clinic), by=by(second), version=2)
    assert (signed.made.version, signed.second, signed.made.body["follow_ups"][0]["latest"]) == ("2", second, 15)
    assert signed.made.body["sign_off"] == "Lena Marsh and Sten Marsh"
    assert signed.made.body["follow_ups"][0]["source"] == "agreed with the surgeons"
    held.refresh_from_db()
    later = episodes.open_episode(clinic.patient(), by=by(clinic.admin), site=clinic.site)
    assert held.rules == clinic.rules and later.rules == signed.made


def test_a_surgeon_signs_by_name_day_and_how_and_it_says_who_entered_it(clinic, change):
    counted(change, clinic)
    surgeon = Surgeon("Miss R. Lanyon", "letter", after(-2))
    signed = rule_changes.sign(change, by=by(clinic.lead), version=2, surgeon=surgeon)
    assert signed.second is None and signed.second_name == "Miss R. Lanyon, surgeon (letter, Mon 30 Mar 2026)"
    assert signed.made.body["sign_off"].endswith("Mon 30 Mar 2026); entered by Lena Marsh")


def test_a_copy_without_a_difference_is_not_signed(clinic, second):
    same = counted(rule_changes.propose(clinic.rules, by=by(clinic.lead), why="none"), clinic)
    assert refused(lambda: rule_changes.sign(same, by=by(second), version=1)) == "nothing-changed"


def test_once_over_nothing_more_happens_to_it(clinic, change, second):
    rule_changes.withdraw(change, by=by(clinic.lead))
    later = {"by": by(second), "version": None}
    assert refused(lambda: rule_changes.sign(change, **later)) == "change-over"
    assert refused(lambda: rule_changes.change_counts(change, **later, numbers={})) == "change-over"


def test_moving_takes_each_open_episode_once_and_leaves_closed_ones(clinic, change, second):
    held = [clinic.episode(surgery_on=after(-15)) for _ in range(3)]
    closed = clinic.episode()
    episodes.close(closed, by=by(clinic.lead), version=closed.version, how=Ending.NOT_DONE, on=TODAY)
    clinic.book(list(held[1].follow_ups.filter(key="stitches-out")), after(1))
    signed = rule_changes.sign(counted(change, clinic), by=by(second), version=2)
    first, again = (rule_changes.ask_move(signed.made, by=by(staff)) for staff in (second, clinic.lead))
    episodes.move_rules(held[0], signed.made, by=by(second))
    assert jobs.run_job(first.pk) and not jobs.run_job(again.pk)
    assert Episode.objects.filter(rules=signed.made).count() == 3 and rederive(by=by(), mend=False).drifted == 0
    assert TrailEntry.objects.filter(act="episode.move-rules", subject="episode").count() == 3
    assert Standing.objects.overdue(TODAY).get(episode=held[1]).headline == "booked-outside"


def test_a_move_that_was_killed_or_cancelled_goes_on_where_it_was(clinic, change, second, monkeypatch):
    monkeypatch.setattr(rule_jobs, "MOVED_AT_ONCE", 1)
    for _ in range(3):
        clinic.episode()
    signed = rule_changes.sign(counted(change, clinic), by=by(second), version=2)
    job = rule_changes.ask_move(signed.made, by=by(second))
    killed = jobs.KINDS[job.kind](job)
    jobs.Job.objects.filter(pk=job.pk).update(state="running")
    assert [next(killed), next(killed)] == [(0, 3), (1, 3)]
    killed.close()
    job.refresh_from_db()
    assert job.reached["moved"] == 1 and Episode.objects.filter(rules=signed.made).count() == 1
    jobs.Job.objects.filter(pk=job.pk).update(claimed_until=None)
    jobs.cancel(job, by=by(second))
    job.refresh_from_db()
    assert job.state == "cancelled" and job.answer.startswith("1 episode was moved before that; the others keep")
    again = rule_changes.ask_move(signed.made, by=by(clinic.lead))
    assert jobs.run_job(again.pk) and Episode.objects.filter(rules=signed.made).count() == 3
    again.refresh_from_db()
    assert again.answer == "2 episodes were moved to two-week 2."


def test_an_upgrade_never_replaces_what_the_clinic_has_signed(clinic, change, second):
    signed = rule_changes.sign(counted(change, clinic), by=by(second), version=2)
    load_shipped(revised(written("two-week"), {LATEST: 18}, "9"), by=by())
    assert in_force() == signed.made


@pytest.mark.django_db(transaction=True)
def test_two_moves_at_once_move_each_episode_once():
    clinic = fernhollow()
    for _ in range(3):
        clinic.episode()
    to = load_rules(revised(written("two-week"), {LATEST: 15}, "2"), by=by())
    first = rule_changes.ask_move(to, by=by(clinic.lead))
    second = jobs.Job.objects.create(kind=first.kind, asked=first.asked, by=clinic.lead, created_at=first.created_at)
    assert at_once(*(lambda key=job.pk: jobs.run_job(key) for job in (first, second))) == [True, True]
    assert Episode.objects.filter(rules=to).count() == 3
    assert TrailEntry.objects.filter(act="episode.move-rules", subject="episode").count() == 3
