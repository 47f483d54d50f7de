"""What stays shut on a hand that more is recorded of than one look at one digit."""

from datetime import date, timedelta

import pytest

from caseload.actions import findings
from caseload.models import Episode
from caseload.reads.examining import subjects_of
from caseload.reads.locks import locks_of_hands
from caseload.timetable.terms import ActivityKind, Lock
from tests.record.seeing import CLOSED, OPEN, OUT, locks, look, refused, seen
from tests.scenario import TODAY, by

pytestmark = pytest.mark.usefixtures("settled")
MASSAGE, LIFTING = ActivityKind.SCAR_MASSAGE, ActivityKind.HEAVY_LIFTING


@pytest.fixture
def healed(clinic) -> Episode:
    episode = clinic.episode(surgery_on=date(2026, 2, 10), today=date(2026, 2, 10))
    seen(clinic, look(episode, OUT, CLOSED), on=date(2026, 2, 25))
    return episode


@pytest.mark.parametrize("days", [0, 1])
def test_a_correction_of_the_earlier_look_of_a_day_is_not_the_last_look(clinic, days):
    """On either database: one that corrects has its place where the first of its chain was."""
    episode = clinic.episode(surgery_on=date(2026, 3, 10))
    first = seen(clinic, look(episode, OUT, CLOSED))
    seen(clinic, look(episode, OPEN))
    later = by(clinic.therapist, TODAY + timedelta(days=days))
    findings.correct(first.findings.get(kind="wound"), by=later, wound="closed", note="dry")
    assert locks(episode, MASSAGE, date(2026, 4, 20)) == (Lock.WOUND_CLOSED,)
    assert locks_of_hands([episode.patient_id], TODAY).locks[episode.pk][MASSAGE] == (Lock.WOUND_CLOSED,)
    (subject,) = subjects_of([episode], TODAY)
    assert [row.wound for row in subject.found if row.kind == "wound"] == ["not-closed"]


def test_the_wound_of_a_second_operation_on_a_digit_shuts_the_first_episode_too(clinic, healed):
    clinic.episode(healed.patient, surgery_on=date(2026, 3, 30))
    assert Lock.WOUND_CLOSED in locks(healed, MASSAGE)
    assert Lock.WOUND_CLOSED in locks_of_hands([healed.patient_id], TODAY).locks[healed.pk][MASSAGE]
    assert refused(lambda: seen(clinic, look(healed, started=[MASSAGE]))).code == "locked"


def test_a_digit_whose_surgery_date_is_missing_shuts_its_hand(clinic, healed):
    clinic.episode(healed.patient, surgery_on=None, digit="index")
    assert locks(healed, LIFTING) == (Lock.WOUND_CLOSED,)
    assert locks_of_hands([healed.patient_id], TODAY).locks[healed.pk][LIFTING] == (Lock.WOUND_CLOSED,)
    assert refused(lambda: seen(clinic, look(healed, started=[LIFTING]))).code == "locked"
