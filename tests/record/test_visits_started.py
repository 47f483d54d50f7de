"""What a patient may begin after a visit: nothing that the hand is not ready for, whoever says so."""

from datetime import date, timedelta

import pytest

from caseload.actions import instructions
from caseload.timetable.terms import ActivityKind, AfterVisit, Lock
from tests.record.seeing import CLOSED, OPEN, OUT, locks, look, refused, seen
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")
DAY_31 = date(2026, 3, 1)
"""Surgery so long ago that only gates keep anything locked."""
GRIP, LIFTING, MASSAGE = ActivityKind.TIGHT_GRIP, ActivityKind.HEAVY_LIFTING, ActivityKind.SCAR_MASSAGE


def test_what_waits_for_the_wound_is_refused_and_the_gate_is_named(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    refusal = refused(lambda: seen(clinic, look(episode, OUT, OPEN, started=[GRIP])))
    assert (refusal.code, refusal.details["locks"]) == ("locked", (Lock.WOUND_CLOSED,))
    assert (refusal.details["field"], refusal.details["episode"]) == ("started", episode.code)
    assert "wound" in refusal.message.lower()


def test_the_same_visit_may_find_the_wound_closed_and_start_what_waited_for_it(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    visit = seen(clinic, look(episode, OUT, CLOSED, started=[GRIP, LIFTING]))
    assert visit.examined.get().started == ["tight-grip", "heavy-lifting"]


def test_a_gate_is_not_enough_before_the_day(clinic):
    episode = clinic.episode()
    refusal = refused(lambda: seen(clinic, look(episode, OUT, CLOSED, started=[MASSAGE])))
    assert (refusal.code, refusal.details["locks"]) == ("locked", (Lock.DAY,))


def test_an_instruction_keeps_locked_what_the_gate_lets_through(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    order = {"item": GRIP, "locked": True, "by_whom": "Surgeon", "why": "repair"}
    instructions.give(episode, by=by(clinic.therapist), **order)
    refusal = refused(lambda: seen(clinic, look(episode, OUT, CLOSED, started=[GRIP])))
    assert refusal.details["locks"] == (Lock.INSTRUCTION,)


def test_by_the_patients_word_only_what_is_open_already_begins(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    seen(clinic, look(episode, OUT, CLOSED))
    visit = seen(clinic, look(episode, started=[GRIP]), source="patient")
    assert visit.examined.get().started == ["tight-grip"]


def test_the_other_finger_holds_the_hand_back_even_where_the_visit_discharges_it(clinic):
    ring = clinic.episode(surgery_on=DAY_31)
    index = clinic.episode(ring.patient, digit="index", surgery_on=DAY_31, suture="absorbable")
    goes = look(index, OPEN, after=AfterVisit.DISCHARGE)
    refusal = refused(lambda: seen(clinic, goes, look(ring, OUT, CLOSED, started=[GRIP])))
    assert (refusal.code, refusal.details["episode"]) == ("locked", ring.code)
    own = look(ring, OUT, CLOSED, started=[MASSAGE])
    refused_day = locks(ring, MASSAGE)
    assert refused_day and refused(lambda: seen(clinic, goes, own)).details["locks"] == (Lock.DAY,)


def test_what_a_later_day_found_is_not_known_to_an_earlier_visit(clinic):
    episode = clinic.episode(surgery_on=DAY_31)
    seen(clinic, look(episode, OUT, CLOSED))
    before = TODAY - timedelta(days=2)
    refusal = refused(lambda: seen(clinic, look(episode, OPEN, started=[GRIP]), on=before, today=TODAY))
    assert refusal.code == "found-later"
    seen(clinic, look(episode, OPEN), on=before, today=TODAY)
    assert locks(episode, GRIP) == (), "the order is that of the days: the later look says closed"
