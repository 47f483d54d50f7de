"""Two who accept one line of a plan at the same moment book it once between them."""

from threading import Barrier, Thread

import pytest
from django.db import connections, transaction

from caseload.actions import filling
from caseload.errors import Refusal
from caseload.models import Appointment
from tests.record.acts import line
from tests.scenario import by, fernhollow


@pytest.mark.django_db(transaction=True)
def test_two_who_accept_a_line_at_once_book_it_once():
    with transaction.atomic():
        clinic = fernhollow()
        wanted = line(clinic)
    start, heard = Barrier(2), []

    def accept(person) -> None:
        try:
            start.wait()
            heard.append(filling.accept(wanted, by=by(person)).code)
        except Refusal as refusal:
            heard.append(refusal.code)
        finally:
            connections.close_all()

    threads = [Thread(target=accept, args=[person]) for person in (clinic.admin, clinic.lead)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(heard) == sorted([Appointment.objects.get().code, "line-decided"])
    wanted.refresh_from_db()
    assert wanted.overtaken == "" and wanted.appointment == Appointment.objects.get()
