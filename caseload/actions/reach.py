"""The record of somebody else's patient, opened with a reason that holds for a while and that leads see."""

from dataclasses import replace
from datetime import timedelta
from typing import Final

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.errors import Refusal
from caseload.models import BreakGlass, Patient

HOLDS: Final = timedelta(hours=12)
SHORTEST: Final = 3
LONGEST: Final = 200


@act(Act.PATIENT_OPEN)
def open_with_reason(patient: Patient, *, why: str, by: By) -> BreakGlass:
    """Reach a patient for twelve hours. Raises Refusal `why-missing` unless `why` has 3 to 200 characters."""
    why = " ".join(why.split())
    if not SHORTEST <= len(why) <= LONGEST:
        raise Refusal("why-missing", "Say in a few words why you need this record.", field="why")
    opened = BreakGlass.objects.create(patient=patient, by=by.person, at=by.at, until_at=by.at + HOLDS, why=why)
    trail(Act.PATIENT_OPEN, opened, by=replace(by, why=why), patient_id=patient.pk, changed={})
    return opened
