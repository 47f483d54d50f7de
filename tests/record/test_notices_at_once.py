"""Two processes at once: one of them has the notice, and nobody waits for a lock that another act holds."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection, connections, transaction

from caseload.actions import appointments, notices, patients
from caseload.actions.act import By, fresh
from caseload.actions.rederive import rederive
from caseload.models import TrailEntry
from tests.record.test_notices import ELSEWHEN, book, mail, waiting  # noqa: F401
from tests.scenario import by, fernhollow

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one writer at a time"),
]


def elsewhere(do):
    """The answer of `do` in a thread with a connection of its own, which waits for no lock longer than a moment."""

    def run():
        try:
            with connection.cursor() as cursor:
                cursor.execute("SET lock_timeout = '5s'")
            return do()
        finally:
            connections.close_all()

    return ThreadPoolExecutor(1).submit(run)


def test_of_those_who_claim_a_notice_or_record_it_at_once_one_does():
    with transaction.atomic():
        notice = book(fernhollow(), told="told").notices.get(kind="days-before")
    planner, start = By(None, notice.due_at, notice.due_at.date()), Barrier(4)

    def claim():
        start.wait()
        return notices.claim(notice.pk, notice.due_at)

    claimed = [found.result() for found in [elsewhere(claim) for _ in range(4)]]
    (won,) = filter(None, claimed)

    def record():
        start.wait()
        return notices.record_sent(type(won).objects.get(pk=won.pk), by=planner, to="rosa@example.org", text="").state

    assert {found.result() for found in [elsewhere(record) for _ in range(4)]} == {"sent"}
    assert TrailEntry.objects.filter(act="notice.send").count() == 1


def test_a_move_does_not_wait_for_whoever_corrects_the_patient_and_both_hold():
    with transaction.atomic():
        clinic = fernhollow()
        booked, session = book(clinic, told="told"), clinic.session(ELSEWHEN)
    with transaction.atomic():
        fresh(booked.patient, None)
        moving = elsewhere(lambda: appointments.move(booked, by=by(clinic.admin), session=session, start=540))
        moving.result()
        patients.correct(booked.patient, by=by(clinic.admin), version=None, email_consent=False)
    assert waiting(booked) == ["week-before by call", "days-before by call"]
    assert rederive(by=by(), mend=False).moved == {}
