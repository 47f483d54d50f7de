"""Measurements are corrected by a later row that names the earlier, or withdrawn; none is ever changed."""

import pytest

from caseload.actions import measurements
from caseload.measures.bodies import Infection, Pain, read
from caseload.measures.terms import InfectionKind, MeasureKind
from caseload.models import Measurement
from tests.record.seeing import FLAG, OPEN, look, refused, seen
from tests.scenario import TODAY, by


@pytest.fixture
def pain(clinic) -> Measurement:
    return seen(clinic, look(clinic.episode(), measured={MeasureKind.PAIN: Pain(4)})).measurements.get()


def test_the_later_one_stands_and_the_earlier_stays_readable(clinic, pain):
    later = measurements.correct(pain, by=by(clinic.therapist), body=Pain(2), why="mistyped")
    assert (later.corrects, later.visit, later.on) == (pain, pain.visit, TODAY)
    assert Measurement.objects.standing().get() == later
    assert read(MeasureKind.PAIN, Measurement.objects.get(pk=pain.pk).body) == Pain(4)


def test_one_is_corrected_once_and_says_why(clinic, pain):
    correct = {"by": by(clinic.therapist), "body": Pain(2)}
    assert refused(lambda: measurements.correct(pain, why="", **correct)).code == "why-missing"
    later = measurements.correct(pain, why="mistyped", **correct)
    assert refused(lambda: measurements.correct(pain, why="again", **correct)).code == "corrected-already"
    measurements.correct(later, why="again", **correct)


def test_what_was_withdrawn_is_not_brought_back_by_a_correction(clinic, pain):
    gone = measurements.withdraw(pain, by=by(clinic.therapist), why="other hand")
    assert not Measurement.objects.standing().exists()
    back = {"by": by(clinic.therapist), "body": Pain(2), "why": "after all"}
    assert refused(lambda: measurements.correct(gone, **back)).code == "corrected-already"


def test_a_correction_says_the_same_measure_and_what_can_be(clinic, pain):
    own = {"by": by(clinic.therapist), "why": "mistyped"}
    other = Infection(InfectionKind.SUPERFICIAL)
    assert refused(lambda: measurements.correct(pain, body=other, **own)).code == "other-measure"
    assert refused(lambda: measurements.correct(pain, body=Pain(12), **own)).code == "impossible"


def test_an_infection_that_turns_out_deep_is_a_red_flag_first(clinic):
    episode = clinic.episode()
    said = {MeasureKind.INFECTION: Infection(InfectionKind.SUPERFICIAL)}
    row = seen(clinic, look(episode, OPEN, measured=said)).measurements.get()
    deep = {"by": by(clinic.therapist), "body": Infection(InfectionKind.DEEP), "why": "looked again"}
    assert refused(lambda: measurements.correct(row, **deep)).code == "deep-without-flag"
    seen(clinic, look(episode, FLAG))
    measurements.correct(row, **deep)
