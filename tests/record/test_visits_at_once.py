"""Two who record the same two digits at the same moment, in opposite order, do not wait for each other for ever."""

from datetime import date
from threading import Barrier, Thread

import pytest
from django.db import connections, transaction

from caseload.actions.rederive import rederive
from caseload.errors import Refusal
from caseload.models import Episode, Visit
from caseload.reads.marks import seen_of
from caseload.timetable.terms import AfterVisit
from tests.record.seeing import CLOSED, OUT, look, seen
from tests.scenario import by, fernhollow

ROUNDS = 4


@pytest.mark.django_db(transaction=True)
def test_two_visits_at_once_in_opposite_order_are_recorded_or_one_is_shown_the_other():
    clinic = fernhollow()
    for _ in range(ROUNDS):
        ring = clinic.episode()
        index = clinic.episode(ring.patient, digit="index")
        with transaction.atomic():
            clinic.book([row.follow_ups.get(key="outcome-review") for row in (ring, index)], date(2026, 4, 28))
        marks = {row.pk: seen_of(row) for row in (ring, index)}
        start, ended, faults = Barrier(2), [], []

        def record(keys, marks=marks, start=start, ended=ended, faults=faults) -> None:
            try:
                rows = [Episode.objects.get(pk=key) for key in keys]
                start.wait()
                looks = [look(row, OUT, CLOSED, after=AfterVisit.DISCHARGE, seen=marks[row.pk]) for row in rows]
                ended.append(seen(clinic, *looks).code)
            except Refusal as refusal:
                ended.append(refusal.code)
            except Exception as fault:
                faults.append(fault)
            finally:
                connections.close_all()

        threads = [Thread(target=record, args=[keys]) for keys in ([ring.pk, index.pk], [index.pk, ring.pk])]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        visit = Visit.objects.get(patient=ring.patient)
        assert faults == [] and visit.code in ended and len(ended) == 2
        assert set(ended) - {visit.code} <= {"changed-meanwhile", "episode-closed"}
    with transaction.atomic():
        assert rederive(by=by(), mend=False).moved == {}
