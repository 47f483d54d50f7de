"""A visit as one act: everything of it or nothing, whoever records it and however often it is sent."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from caseload.actions import episodes, findings, instructions
from caseload.actions.act import By, Repeated
from caseload.errors import Refusal
from caseload.measures.bodies import Infection, Motion, Pain, QuickDash, Reach
from caseload.measures.terms import InfectionKind, Joint, MeasureKind
from caseload.models import Episode, TrailEntry, Visit
from caseload.reads.marks import seen_of
from caseload.timetable.terms import ActivityKind, AfterVisit, Lock
from tests.record.seeing import CLOSED, FLAG, HALF, OPEN, OUT, locks, look, refused, seen
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")
DAY_31 = date(2026, 3, 1)
"""Surgery so long ago that only gates keep anything locked."""
GRIP = ActivityKind.TIGHT_GRIP
DEEP = {MeasureKind.INFECTION: Infection(InfectionKind.DEEP)}


# What is found


def test_two_digits_of_one_hand_are_one_visit(clinic):
    ring = clinic.episode()
    index = clinic.episode(ring.patient, digit="index", suture="absorbable")
    pain = {MeasureKind.PAIN: Pain(2)}
    visit = seen(clinic, look(ring, OUT, CLOSED, measured=pain), look(index, OPEN), taught="bending")
    assert [row.episode for row in visit.examined.all()] == [ring, index]
    assert set(visit.findings.values_list("episode", "kind")) == {
        (ring.pk, "stitches"), (ring.pk, "wound"), (index.pk, "wound"),
    }  # fmt: skip
    assert visit.measurements.get().episode == ring
    assert ring.follow_ups.get(key="stitches-out").done_on == TODAY
    assert index.follow_ups.filter(kind="wound-recheck", state="due").exists()


@pytest.mark.parametrize(
    ("found", "code", "field"),
    [
        ([OUT], "wound-missing", "wound"),
        ([OUT | {"stitches_out": 3}, CLOSED], "count-unconfirmed", "confirmed_full"),
        ([OUT | {"stitches_left": None}, CLOSED], "counts-missing", "stitches_out"),
        ([{"kind": "trim-needed"}], "nothing-to-trim", None),
        ([CLOSED, OPEN], "said-twice", None),
    ],
)
def test_what_cannot_have_been_found_is_refused_and_names_its_digit(clinic, found, code, field):
    ring = clinic.episode()
    index = clinic.episode(ring.patient, digit="index")
    refusal = refused(lambda: seen(clinic, look(index, OPEN), look(ring, *found)))
    assert (refusal.code, refusal.details.get("field"), refusal.details["episode"]) == (code, field, ring.code)


def test_none_left_although_the_counts_differ_stands_once_it_is_confirmed(clinic):
    episode = clinic.episode()
    seen(clinic, look(episode, OUT | {"stitches_out": 3, "confirmed_full": True}, CLOSED))
    assert episode.follow_ups.get(key="stitches-out").done_on == TODAY


def test_a_partial_removal_makes_a_re_check_and_opens_nothing(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    seen(clinic, look(episode, HALF, CLOSED))
    assert episode.follow_ups.get(key="stitches-out").state == "dropped"
    assert episode.follow_ups.get(kind="stitches-recheck").earliest_on == TODAY + timedelta(days=3)
    assert locks(episode, GRIP) == (Lock.WOUND_CLOSED,)


def test_a_wound_that_opened_again_relocks_in_the_same_transaction(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    seen(clinic, look(episode, OUT, CLOSED))
    assert locks(episode, GRIP) == ()
    later = TODAY + timedelta(days=6)
    visit = seen(clinic, look(episode, OPEN), on=later)
    assert locks(episode, GRIP, later) == (Lock.WOUND_CLOSED,)
    assert episode.follow_ups.get(kind="wound-recheck", state="due").anchor_on == later
    assert TrailEntry.objects.filter(subject="finding", subject_id=visit.findings.get().pk).exists()


@pytest.mark.parametrize("source", ["photo", "patient"])
def test_a_wound_closed_on_a_picture_or_by_word_opens_nothing(clinic, source):
    episode = clinic.episode(surgery_on=DAY_31, suture="absorbable")
    refusal = refused(lambda: seen(clinic, look(episode, CLOSED, started=[GRIP]), source=source))
    assert refusal.code == "locked"
    visit = seen(clinic, look(episode, CLOSED), source=source)
    assert locks(episode, GRIP) == (Lock.WOUND_CLOSED,)
    if source == "photo":
        findings.countersign(visit.findings.get(), by=by(clinic.therapist))
        assert locks(episode, GRIP) == ()


def test_a_report_names_who_gave_it_and_what_was_found_bears_its_source(clinic):
    episode = clinic.episode()
    assert refused(lambda: seen(clinic, look(episode, OUT), source="reported")).code == "reporter-missing"
    visit = seen(clinic, look(episode, OUT), source="reported", reported_by="Practice nurse")
    finding = visit.findings.get()
    assert (finding.source, finding.reported_by, finding.on) == ("reported", "Practice nurse", TODAY)


def test_the_suture_is_corrected_before_the_findings_are_held_against_it(clinic):
    episode = clinic.episode(suture="none", stitches_in=None)
    facts = {"suture": "non-absorbable", "stitches_in": 4}
    seen(clinic, look(episode, OUT, CLOSED, facts=facts))
    assert Episode.objects.get(pk=episode.pk).suture == "non-absorbable"


def test_a_suture_is_not_unsaid_while_a_removal_stands(clinic):
    episode = clinic.episode()
    visit = seen(clinic, look(episode, HALF, OPEN))
    none = {"suture": "none", "stitches_in": None}
    assert refused(lambda: seen(clinic, look(episode, facts=none))).code == "stitches-recorded"
    findings.withdraw(visit.findings.get(kind="stitches"), by=by(clinic.therapist), why="other hand")
    seen(clinic, look(episode, facts=none))


# What is refused whoever says it


@pytest.mark.parametrize(
    ("code", "call"),
    [
        ("digit-twice", lambda c, e: seen(c, look(e), look(Episode.objects.get(pk=e.pk)))),
        ("one-patient", lambda c, e: seen(c, look(e), look(c.episode()))),
        ("visit-in-future", lambda c, e: seen(c, look(e), on=TODAY + timedelta(days=1), today=TODAY)),
        ("other-patient", lambda c, e: seen(c, look(e), meets=[c.episode().follow_ups.get(key="outcome-review")])),
        ("finding-before-surgery", lambda c, e: seen(c, look(e, OPEN), on=date(2026, 3, 19), today=TODAY)),
        ("impossible", lambda c, e: seen(c, look(e, measured={MeasureKind.PAIN: Pain(11)}))),
        ("deep-without-flag", lambda c, e: seen(c, look(e, OPEN, measured=DEEP))),
        ("not-for-this-hand", lambda c, e: seen(
            c, look(c.episode(c.patient(born_on=date(2015, 1, 1))), started=[ActivityKind.DRIVING])
        )),
    ],
)  # fmt: skip
def test_a_visit_that_cannot_be(clinic, code, call):
    episode = clinic.episode()
    with pytest.raises(Refusal) as refusal:
        call(clinic, episode)
    assert refusal.value.code == code and not Visit.objects.exists()


def test_nothing_is_found_of_an_episode_that_is_closed(clinic):
    episode = clinic.episode()
    stale = Episode.objects.get(pk=episode.pk)
    seen(clinic, look(episode, OUT, CLOSED, after=AfterVisit.DISCHARGE))
    refusal = refused(lambda: seen(clinic, look(stale, measured={MeasureKind.PAIN: Pain(1)})))
    assert refusal.code == "episode-closed", "whatever the page read before"


def test_a_joint_that_a_thumb_does_not_have_is_refused(clinic):
    episode = clinic.episode(digit="thumb")
    motion = {MeasureKind.MOTION: Motion({Joint.PIP: Reach(90, 0)})}
    assert refused(lambda: seen(clinic, look(episode, measured=motion))).details["field"] == "pip_flexion"


@pytest.mark.parametrize(("born_on", "allowed"), [(date(2010, 4, 1), True), (date(2010, 4, 2), False)])
def test_the_questionnaire_is_not_for_a_child(clinic, born_on, allowed):
    episode = clinic.episode(clinic.patient(born_on=born_on))
    answered = look(episode, measured={MeasureKind.QUICKDASH: QuickDash((1,) * 11)})
    if allowed:
        assert seen(clinic, answered).measurements.exists()
    else:
        assert refused(lambda: seen(clinic, answered)).code == "under-16"


def test_a_deep_infection_is_said_to_be_a_red_flag_in_this_visit_or_before(clinic):
    episode = clinic.episode()
    refusal = refused(lambda: seen(clinic, look(episode, OPEN, measured=DEEP)))
    assert (refusal.code, refusal.details["field"]) == ("deep-without-flag", "red_flag")
    visit = seen(clinic, look(episode, OPEN, FLAG, measured=DEEP))
    seen(clinic, look(episode, measured=DEEP))
    flag = visit.findings.get(kind="red-flag")
    findings.close_red_flag(flag, by=by(clinic.lead), escalated_to="surgeon", outcome="washed out")
    assert refused(lambda: seen(clinic, look(episode, measured=DEEP))).code == "deep-without-flag"


# Two at once, and twice


def test_what_was_recorded_meanwhile_is_read_first(clinic):
    episode = clinic.episode()
    mark = seen_of(episode)
    seen(clinic, look(episode, OPEN))
    refusal = refused(lambda: seen(clinic, look(episode, CLOSED, seen=mark)))
    assert (refusal.code, refusal.details["episode"]) == ("changed-meanwhile", episode.code)
    seen(clinic, look(episode, CLOSED, seen=seen_of(episode)))


def test_facts_or_orders_changed_meanwhile_are_read_first_too(clinic):
    episode = clinic.episode()
    mark = seen_of(episode)
    instructions.give(episode, by=by(clinic.therapist), item=GRIP, locked=True, by_whom="Surgeon", why="repair")
    assert refused(lambda: seen(clinic, look(episode, seen=mark))).code == "changed-meanwhile"
    mark = seen_of(episode)
    episodes.correct(episode, by=by(clinic.admin), version=None, surgeon="Dr Vane")
    assert refused(lambda: seen(clinic, look(episode, seen=mark))).code == "changed-meanwhile"


def test_a_form_sent_twice_records_one_visit(clinic):
    episode = clinic.episode()
    once = By(clinic.therapist, by().at, TODAY, uuid4())
    visit = seen(clinic, look(episode, OPEN), by=once)
    with pytest.raises(Repeated) as repeated:
        seen(clinic, look(episode, OPEN), by=once)
    assert repeated.value.outcome == visit.code and Visit.objects.count() == 1
