"""Two who record the same two digits at the same moment, in opposite order, do not wait for each other for ever."""

from datetime import date

import pytest
from django.db import transaction

from caseload.actions.rederive import rederive
from caseload.models import Episode, Visit
from caseload.reads.marks import seen_of
from caseload.timetable.terms import AfterVisit
from tests.record.at_once import at_once
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

        def record(rows, marks=marks) -> str:
            looks = [look(row, OUT, CLOSED, after=AfterVisit.DISCHARGE, seen=marks[row.pk]) for row in rows]
            return seen(clinic, *looks).code

        orders = [[Episode.objects.get(pk=row.pk) for row in rows] for rows in ((ring, index), (index, ring))]
        ended = at_once(*(lambda rows=rows: record(rows) for rows in orders))
        visit = Visit.objects.get(patient=ring.patient)
        assert visit.code in ended
        assert set(ended) - {visit.code} <= {"changed-meanwhile", "episode-closed"}
    with transaction.atomic():
        assert rederive(by=by(), mend=False).moved == {}
