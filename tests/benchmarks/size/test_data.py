"""A record copied for measuring is as true as the one that the acts left: deriving everything anew moves nothing.

Not held against anything published: that it is true is what `rederive` finds.
"""

from datetime import date

import pytest
from django.db import connection

from caseload.actions import findings, reviews
from caseload.actions.rederive import rederive
from caseload.models import Appointment, Episode, Patient, Seat, TrailEntry
from tests.benchmarks.size import data
from tests.scenario import Fernhollow, by, fernhollow

LATER = date(2026, 4, 8)
WANTED = 100


@pytest.fixture
def clinic(db: None) -> Fernhollow:
    there = fernhollow()
    for number, digit in enumerate(("thumb", "index", "ring")):
        patient = there.patient(phone="07700 900123", hospital_number=f"FH{number}1")
        episode = there.episode(patient, digit=digit)
        there.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 2))
        there.book([episode.follow_ups.get(key="outcome-review")], date(2026, 4, 30))
    findings.record(episode, by=by(there.therapist, LATER), kind="stitches", on=date(2026, 4, 7), stitches_out=2,
                    stitches_left=2)  # fmt: skip
    reviews.set_review(episode, by=by(there.therapist, LATER), on=LATER, in_days=10)
    return there


def test_copies_are_true(clinic: Fernhollow) -> None:
    """Also the keys that name what caused a row, the notices that end with their appointment, and the waits."""
    seats, entries = Seat.objects.count(), TrailEntry.objects.exclude(patient=None).count()
    assert list(data.grow(WANTED))[-1] >= WANTED
    copies = Episode.objects.count() // 3
    drift = rederive(by=by(today=LATER), mend=False)
    assert (drift.looked_at, drift.moved) == (3 * copies, {})
    assert Seat.objects.count() == seats * copies
    assert TrailEntry.objects.exclude(patient=None).count() == entries * copies
    connection.check_constraints()


def test_copies_are_told_apart(clinic: Fernhollow) -> None:
    list(data.grow(WANTED))
    patients = Patient.objects.count()
    assert Patient.objects.values("code").distinct().count() == patients
    assert Patient.objects.values("search_key").distinct().count() > 0.9 * patients
    theirs = {row["therapist"] for row in Episode.objects.values("therapist").distinct()}
    assert len(theirs) == data.OWNERS
    assert not Appointment.objects.filter(session=None).exists()
