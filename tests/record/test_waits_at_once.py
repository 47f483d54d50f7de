"""Two acts on one patient at the same moment: the later one is looked at with what the earlier one wrote."""

from datetime import date
from threading import Thread

import pytest
from django.db import connection, connections, transaction

from caseload.actions import referrals
from caseload.actions.rederive import rederive
from caseload.models import Referral, Wait
from tests.scenario import by, fernhollow


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time")
@pytest.mark.django_db(transaction=True)
def test_what_an_act_derives_counts_what_another_has_not_committed_yet():
    clinic = fernhollow()
    patient, said = clinic.patient(), {"received_on": date(2026, 3, 2), "source": "hand surgery"}
    referral = referrals.add(patient, by=by(clinic.admin), **said)
    row = clinic.episode(patient, referral=referral).follow_ups.get(key="stitches-out")
    other = Thread(target=make_urgent, args=[referral.pk])
    with transaction.atomic():
        clinic.book([row], date(2026, 4, 2))
        other.start()
        while not somebody_waits():
            assert other.is_alive()
    other.join()
    wait = Wait.objects.get(referral=referral, key="appointment-offered")
    assert (wait.ended, wait.priority) == ("seen", "urgent")
    assert rederive(by=by(), mend=False).moved == {}


def somebody_waits() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT EXISTS (SELECT FROM pg_locks WHERE NOT granted)")
        return cursor.fetchone()[0]


def make_urgent(key: int) -> None:
    try:
        referrals.correct(Referral.objects.get(pk=key), by=by(), version=None, priority="urgent")
    finally:
        connections.close_all()
