"""Filing a month of waits: once, of a month that is over, by the lead; never changed, never deleted."""

from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, transaction

from caseload.actions import wiping
from caseload.models import Filing, Staff
from tests.scenario import Fernhollow

MARCH = date(2026, 3, 1)
NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


def row(lead: Staff, month: date = MARCH) -> Filing:
    return Filing.objects.create(month=month, body={"shape": 1}, filed_by=lead, filed_at=NOW)


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_refuses_to_change_or_delete_what_was_filed(clinic: Fernhollow, change: str):
    filed = Filing.objects.filter(pk=row(clinic.lead).pk)
    with pytest.raises(IntegrityError, match="a month that was filed is never"), transaction.atomic():
        filed.update(body={}) if change == "update" else filed.delete()
    assert filed.get().body == {"shape": 1}


def test_what_the_demo_filed_is_wiped_with_it(db: None):
    row(Staff.objects.create(username="lena", name="Lena", is_lead=True, demo=True))
    wiping.wipe()
    assert not Filing.objects.exists()
