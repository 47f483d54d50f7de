"""Two who accept one line of a plan at the same moment book it once between them."""

import pytest
from django.db import transaction

from caseload.actions import filling
from caseload.models import Appointment
from tests.record.at_once import at_once
from tests.record.before import line
from tests.scenario import by, fernhollow


@pytest.mark.django_db(transaction=True)
def test_two_who_accept_a_line_at_once_book_it_once():
    with transaction.atomic():
        clinic = fernhollow()
        wanted = line(clinic)
    people = by(clinic.admin), by(clinic.lead)
    heard = at_once(*(lambda who=who: filling.accept(wanted, by=who).code for who in people))
    assert sorted(heard) == sorted([Appointment.objects.get().code, "line-decided"])
    wanted.refresh_from_db()
    assert wanted.overtaken == "" and wanted.appointment == Appointment.objects.get()
