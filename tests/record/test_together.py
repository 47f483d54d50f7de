"""Many acts settled together leave what the same acts leave one by one; in between nothing derived has moved."""

from datetime import date

import pytest

from caseload.actions import findings, reviews
from caseload.actions.rederive import rederive
from caseload.actions.rewriting import rewrite
from caseload.actions.settle import together
from caseload.models import Episode, FollowUp, TrailEntry
from tests.scenario import by

REMOVAL = {"kind": "stitches", "on": date(2026, 4, 1), "source": "seen", "stitches_out": 4, "stitches_left": 0}
CLOSED = {"kind": "wound", "on": date(2026, 4, 1), "source": "seen", "wound": "closed"}


def visit(clinic, episode: Episode) -> None:
    findings.record_visit(episode, by=by(clinic.therapist), sayings=[REMOVAL, CLOSED])
    reviews.set_review(episode, by=by(clinic.therapist), on=date(2026, 4, 1), in_days=14)


def stored(episode: Episode) -> list[dict]:
    return list(episode.follow_ups.order_by("kind").values(*FollowUp.DERIVED, "state"))


def test_acts_together_store_what_they_store_one_by_one(clinic):
    alone, joint = clinic.episode(), clinic.episode()
    visit(clinic, alone)
    with together():
        visit(clinic, joint)
    assert stored(joint) == stored(alone)
    assert rederive(by=by(), mend=False).moved == {}


def test_inside_the_follow_ups_are_still_those_of_before(clinic):
    episode = clinic.episode()
    with together():
        visit(clinic, episode)
        assert episode.follow_ups.get(key="stitches-out").state == "due"
    assert episode.follow_ups.get(key="stitches-out").state == "done"


def test_each_act_has_its_entry_and_the_last_says_what_moved(clinic):
    episode = clinic.episode()
    before = TrailEntry.objects.count()
    with together():
        visit(clinic, episode)
    removal, wound, review = TrailEntry.objects.order_by("id")[before:]
    assert (removal.act, wound.act, review.act) == ("finding.record", "finding.record", "review.set")
    assert removal.changed == wound.changed == {}
    assert review.changed["stitches-out"][1] == "done 2026-04-01"


def test_a_visit_for_two_episodes_settles_both(clinic):
    first = clinic.episode()
    second = clinic.episode(first.patient, digit="middle")
    rows = list(FollowUp.objects.filter(key="stitches-out").order_by("id"))
    with together():
        clinic.book(rows, date(2026, 4, 2))
    booked = {episode.follow_ups.get(key="stitches-out").booked_on for episode in (first, second)}
    assert booked == {date(2026, 4, 2)}


def test_a_fault_inside_leaves_nothing_of_it(clinic):
    episode = clinic.episode()
    entries = TrailEntry.objects.count()
    with pytest.raises(LookupError), together():
        visit(clinic, episode)
        raise LookupError
    assert not episode.findings.exists() and TrailEntry.objects.count() == entries


def test_after_it_acts_settle_at_once_again(clinic):
    episode = clinic.episode()
    with together():
        pass
    visit(clinic, episode)
    assert episode.follow_ups.get(key="stitches-out").state == "done"


def test_rewriting_writes_the_named_fields_and_no_other(clinic):
    row = clinic.episode().follow_ups.get(key="close")
    row.booked_on, row.provisional, row.minutes = date(2026, 6, 1), True, 99
    rewrite([row], ["booked_on", "provisional"])
    now = FollowUp.objects.get(pk=row.pk)
    assert (now.booked_on, now.provisional, now.minutes) == (date(2026, 6, 1), True, 0)


def test_rewriting_nothing_asks_the_database_nothing(db, django_assert_num_queries):
    with django_assert_num_queries(0):
        rewrite([], ["booked_on"])


def test_one_look_is_settled_once_and_leaves_no_re_check_that_nobody_needs(clinic):
    episode = clinic.episode()
    visit(clinic, episode)
    assert not episode.follow_ups.filter(kind="wound-recheck").exists()


def test_inside_another_it_waits_for_that_ones_end(clinic):
    episode = clinic.episode()
    with together():
        with together():
            visit(clinic, episode)
        assert episode.follow_ups.get(key="stitches-out").state == "due"
    assert episode.follow_ups.get(key="stitches-out").state == "done"
