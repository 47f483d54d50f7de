"""What one look found, for tests that record visits."""

from datetime import date
from typing import Any

import pytest

from caseload.actions import visits
from caseload.actions.visits import Look
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Finding, Measurement, TrailEntry, Visit
from caseload.reads.timetables import hand_timetable
from caseload.timetable.terms import ActivityKind, AfterVisit, Lock
from tests.scenario import TODAY, Fernhollow, by

OUT = {"kind": "stitches", "stitches_out": 4, "stitches_left": 0}
HALF = {"kind": "stitches", "stitches_out": 2, "stitches_left": 2}
CLOSED = {"kind": "wound", "wound": "closed"}
OPEN = {"kind": "wound", "wound": "not-closed"}
FLAG = {"kind": "red-flag", "note": "spreading redness, sent to the on-call surgeon"}


def look(episode: Episode, *found: dict[str, Any], after: AfterVisit = AfterVisit.CONTINUE, **said: Any) -> Look:
    return Look(episode, after, findings=found, **said)


def seen(clinic: Fernhollow, *looks: Look, on: date = TODAY, today: date | None = None, **said: Any) -> Visit:
    """A visit recorded by the therapist, on its day unless said otherwise."""
    said = {"by": by(clinic.therapist, today or on)} | said
    return visits.record(looks[0].episode.patient, on=on, looks=looks, **said)


def refused(call) -> Refusal:
    """The refusal, after seeing that nothing at all was written."""
    tables = (Visit, Finding, Measurement, Appointment, TrailEntry)
    before = [table.objects.count() for table in tables]
    with pytest.raises(Refusal) as refusal:
        call()
    assert before == [table.objects.count() for table in tables]
    assert refusal.value.message.endswith(".")
    return refusal.value


def locks(episode: Episode, kind: ActivityKind, on: date = TODAY) -> tuple[Lock, ...]:
    rows = hand_timetable(Episode.objects.get(pk=episode.pk), today=on).activities
    return next(row.locked_by(on) for row in rows if row.kind is kind)
