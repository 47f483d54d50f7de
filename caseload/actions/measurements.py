"""Measurements: corrected by a later one that names the earlier, or withdrawn. None is ever changed."""

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.errors import Refusal
from caseload.measures.bodies import Body, write
from caseload.models import Measurement


@act(Act.MEASUREMENT_CORRECT)
def correct(measurement: Measurement, *, by: By, body: Body, why: str) -> Measurement:
    """Say a measurement again. One is corrected once; the next corrects the correction."""
    return _later(measurement, by, body=write(body), why=why)


@act(Act.MEASUREMENT_CORRECT)
def withdraw(measurement: Measurement, *, by: By, why: str) -> Measurement:
    """Say that a measurement was never so. It stays readable."""
    return _later(measurement, by, body=measurement.body, why=why, withdraws=True)


def _later(measurement: Measurement, by: By, *, why: str, withdraws: bool = False, body: dict) -> Measurement:
    if not why.strip():
        raise Refusal("why-missing", "Say why: the earlier value stays readable beside it.", field="why")
    if hasattr(measurement, "corrected_by"):
        raise Refusal("corrected-already", "This was corrected already. Correct the later one.")
    later = Measurement.objects.create(
        visit=measurement.visit, episode=measurement.episode, kind=measurement.kind, on=measurement.on, body=body,
        by=by.person, recorded_at=by.at, corrects=measurement, withdraws=withdraws, why=why,
    )  # fmt: skip
    changed = {"body": (measurement.body, None if withdraws else body)}
    trail(Act.MEASUREMENT_CORRECT, later, by=by, patient_id=measurement.episode.patient_id, changed=changed)
    return later
