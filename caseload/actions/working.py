"""Who has a row of the booking list open. Advisory: it spares two people the same call; the database decides bookings.

No act: nothing of the record changes, so there is no trail.
"""

from django.db import IntegrityError, transaction
from django.db.models import Q

from caseload.actions.act import By
from caseload.models import WorkedOn
from caseload.reads.to_book import OPEN_FOR


def open_row(patient_id: int, *, by: By) -> bool:
    """Take a patient's row, and let go of others; False while somebody else has it open."""
    person = by.person
    with transaction.atomic():
        free = Q(by=person) | Q(at__lt=by.at - OPEN_FOR)
        taken = WorkedOn.objects.filter(free, patient=patient_id).update(by=person, at=by.at)
        if not taken and not _first(patient_id, by):
            return False
        WorkedOn.objects.filter(by=person).exclude(patient=patient_id).delete()
    return True


def _first(patient_id: int, by: By) -> bool:
    """Whether nobody had it open: two who ask at once are decided by the unique key."""
    try:
        with transaction.atomic():
            WorkedOn.objects.create(patient_id=patient_id, by=by.person, at=by.at)
    except IntegrityError:
        return False
    return True
