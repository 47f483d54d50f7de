"""Everything held on one patient as files: who asks says what for, and that it is taken away is recorded."""

from dataclasses import replace
from typing import Final

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act, trail
from caseload.errors import Refusal
from caseload.models import Job, Look, Patient

KIND: Final = "patient-file"


@act(Act.PATIENT_FILE)
def ask(patient: Patient, *, by: By, why: str) -> Job:
    """Ask for the file, made behind the pages. Whoever asks may fetch it. Raises Refusal `why-missing`."""
    _record(patient, by, why)
    return jobs.ask(KIND, by=by, patient=patient.code, staff=by.person.pk)


@act(Act.PATIENT_FILE)
def take(patient: Patient, *, by: By, why: str) -> Patient:
    """Record that somebody takes it away by command. Raises Refusal `why-missing`."""
    _record(patient, by, why)
    return patient


def _record(patient: Patient, by: By, why: str) -> None:
    if not why.strip():
        raise Refusal("why-missing", "Say what it is for: it is recorded who took what away, and why.", field="why")
    said = replace(by, why=why.strip())
    trail(Act.PATIENT_FILE, patient, by=said, patient_id=patient.pk, changed={})
    Look.objects.create(at=by.at, by=by.person, patient=patient, route=KIND, origin=by.origin, why=said.why)
