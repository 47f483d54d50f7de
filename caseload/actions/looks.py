"""Looking is recorded too: a patient's page, and a list that was taken away as a file."""

from caseload.access import Act
from caseload.actions.act import By, act
from caseload.models import Look, Patient


def looked(patient: Patient, *, by: By, route: str) -> None:
    """Record that somebody opened a page about this patient."""
    Look.objects.create(at=by.at, by=by.person, patient=patient, route=route)


@act(Act.LIST_EXPORT)
def exported(*, by: By, route: str, rows: int) -> Look:
    """Record that a list of `rows` rows was taken away as a file."""
    return Look.objects.create(at=by.at, by=by.person, route=route, rows=rows)
