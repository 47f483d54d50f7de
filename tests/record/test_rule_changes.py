"""Rules changed by the lead: a copy, what it would do, two signatures, and who is moved."""

from datetime import timedelta

import pytest

from caseload.actions import episodes, jobs, rule_changes
from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Episode, RuleChange, RuleSet, Staff, TrailEntry
from caseload.reads.timetables import timetables_under, with_sources
from caseload.timetable.effect import Effect, effect_of
from caseload.timetable.rules import RuleSet as Rules
from caseload.timetable.terms import Ending
from tests.scenario import TODAY, Fernhollow, by

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


def refusal(do) -> str:
    with pytest.raises(Refusal) as refused:
        do()
    return refused.value.code


def test_a_copy_changes_nothing_in_force(clinic, change):
    assert RuleSet.objects.get() == clinic.rules and clinic.rules.body["follow_ups"][0]["latest"] == 16
    assert change.body["follow_ups"][0]["latest"] == 15


def test_a_number_that_cannot_be_is_refused_and_the_copy_stays(clinic, change):
    bad = {"follow_ups.0.target": 20}
    assert refusal(lambda: rule_changes.change_counts(change, by=by(clinic.lead), version=2, numbers=bad))
    assert RuleChange.objects.get().body["follow_ups"][0]["target"] == 14


def test_two_who_edit_one_copy_do_not_overwrite_each_other(clinic, change):
    late = lambda: rule_changes.change_counts(change, by=by(clinic.lead), version=1, numbers={LATEST: 17})  # noqa: E731
    assert refusal(late) == "changed-meanwhile"


def test_what_it_would_do_is_what_deriving_under_the_copy_gives(clinic, change):
    for day in range(4):
        clinic.episode(surgery_on=TODAY - timedelta(days=14 + day))
    clinic.episode(suture="none", stitches_in=None)
    kept = Effect.from_json(counted(change, clinic).effect)
    rows = list(with_sources(Episode.objects.open()))
    assert kept == effect_of(timetables_under(rows, Rules.from_json(change.body)), TODAY)
    assert (kept.looked_at, kept.moved, kept.late) == (5, 4, 1)


def test_an_edit_makes_what_was_counted_void(clinic, change, second):
    counted(change, clinic)
    rule_changes.change_counts(change, by=by(clinic.lead), version=2, numbers={LATEST: 17})
    sign = lambda: rule_changes.sign(change, by=by(second), version=3)  # noqa: E731
    assert change.effect is None and refusal(sign) == "effect-missing"


def test_what_was_counted_on_another_day_is_counted_again(clinic, change, second):
    counted(change, clinic)
    tomorrow = by(second, TODAY + timedelta(days=1))
    assert refusal(lambda: rule_changes.sign(change, by=tomorrow, version=2)) == "effect-missing"


def test_nobody_signs_alone(clinic, change):
    counted(change, clinic)
    assert refusal(lambda: rule_changes.sign(change, by=by(clinic.lead), version=2)) == "second-missing"
    only = {"by": by(clinic.lead), "version": 2, "surgeon": "Miss R. Lanyon"}
    assert refusal(lambda: rule_changes.sign(change, **only)) == "second-missing"
    assert RuleSet.objects.get().retired_at is None


def test_signed_by_a_second_lead_it_is_in_force_for_new_episodes_only(clinic, change, second):
    held = clinic.episode()
    signed = rule_changes.sign(counted(change, clinic), by=by(second), version=2)
    assert (signed.made.version, signed.second, signed.made.body["follow_ups"][0]["latest"]) == ("2", second, 15)
    assert "Lena Marsh and Sten Marsh" in signed.made.body["sign_off"]
    held.refresh_from_db()
    later = episodes.open_episode(clinic.patient(), by=by(clinic.admin), site=clinic.site)
    assert held.rules == clinic.rules and later.rules == signed.made


def test_a_surgeon_signs_by_name_and_how(clinic, change):
    counted(change, clinic)
    said = {"surgeon": "Miss R. Lanyon", "how": "letter of 30 March"}
    signed = rule_changes.sign(change, by=by(clinic.lead), version=2, **said)
    assert signed.second is None and signed.second_name == "Miss R. Lanyon (letter of 30 March)"


def test_a_copy_without_a_difference_is_not_signed(clinic, second):
    same = counted(rule_changes.propose(clinic.rules, by=by(clinic.lead), why="none"), clinic)
    assert refusal(lambda: rule_changes.sign(same, by=by(second), version=1)) == "nothing-changed"


def test_once_over_nothing_more_happens_to_it(clinic, change, second):
    rule_changes.withdraw(change, by=by(clinic.lead))
    later = {"by": by(second), "version": None}
    assert refusal(lambda: rule_changes.sign(change, **later)) == "change-over"
    assert refusal(lambda: rule_changes.change_counts(change, **later, numbers={})) == "change-over"


def test_moving_takes_each_open_episode_once_and_leaves_closed_ones(clinic, change, second):
    held = [clinic.episode() for _ in range(3)]
    closed = clinic.episode()
    episodes.close(closed, by=by(clinic.lead), version=closed.version, how=Ending.NOT_DONE, on=TODAY)
    signed = rule_changes.sign(counted(change, clinic), by=by(second), version=2)
    first, again = (rule_changes.ask_move(signed.made, by=by(staff)) for staff in (second, clinic.lead))
    episodes.move_rules(held[0], signed.made, by=by(second))
    assert jobs.run_job(first.pk) and not jobs.run_job(again.pk)
    assert Episode.objects.filter(rules=signed.made).count() == 3 and rederive(by=by(), mend=False).drifted == 0
    assert TrailEntry.objects.filter(act="episode.move-rules", subject="episode").count() == 3
