"""Rows written in bulk are the rows that `save` writes, few or many, whatever stands in their text."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from caseload.actions.rewriting import STREAMED, insert, insert_keyed, rewrite
from caseload.models import Identifier, Patient, TrailEntry
from tests.scenario import by

ODD = ("plain", "tab\tand\nline", "back\\slash \\N \\.", "O’Brien ø 🖐", "'quoted' \"twice\"", "", ",;|")
COUNTS = (3, STREAMED + 3)


def people(count: int) -> list[Patient]:
    return [
        Patient(
            given="Ivo", family=f"Harrow {n}", search_key=f"harrow {n} ivo", dressing_allergy=ODD[n % len(ODD)],
            born_on=None if n % 3 else date(1960, 2, 29), interpreter=n % 2 == 0,
        )
        for n in range(count)
    ]  # fmt: skip


def stored() -> list[dict[str, object]]:
    return [
        {k: v for k, v in row.items() if k not in ("id", "code")} for row in Patient.objects.order_by("pk").values()
    ]


@pytest.mark.parametrize("count", COUNTS)
def test_new_rows_are_what_saving_each_makes_and_each_has_its_key(db, count):
    rows = people(count)
    insert_keyed(rows)
    assert [row.pk for row in rows] == list(Patient.objects.order_by("pk").values_list("pk", flat=True))
    bulk = stored()
    Patient.objects.all().delete()
    for row in people(count):
        row.save()
    assert bulk == stored()


@pytest.mark.parametrize("count", COUNTS)
def test_a_row_saved_after_a_bulk_gets_a_key_of_its_own(db, count):
    insert_keyed(people(count))
    Patient.objects.create(given="Ann", family="Last", search_key="last ann")
    assert Patient.objects.count() == count + 1


@pytest.mark.parametrize("count", COUNTS)
def test_values_of_every_kind_come_back(db, count):
    changed = {"field": ["was", None, True, 3, ODD[2], {"deep": [ODD[1]]}]}
    insert([TrailEntry(at=by().at, act="patient.add", subject="patient", subject_id=n, changed=changed)
            for n in range(count)])  # fmt: skip
    assert list(TrailEntry.objects.order_by().values_list("at", "by", "changed").distinct()) == [
        (by().at, None, changed)
    ]
    assert TrailEntry.objects.count() == count


@pytest.mark.parametrize("count", COUNTS)
def test_only_the_named_fields_are_rewritten(db, count):
    rows = people(count)
    insert_keyed(rows)
    for row in rows:
        row.phone, row.born_on, row.given = f"{row.pk}\t\\", date(1999, 12, 31), "not written"
    rewrite(rows, ["phone", "born_on"])
    assert {(row.phone, row.born_on, row.given) for row in Patient.objects.all()} == {
        (f"{row.pk}\t\\", date(1999, 12, 31), "Ivo") for row in rows
    }
    rewrite(rows[:1], ["given"])
    assert Patient.objects.filter(given="not written").count() == 1


@pytest.mark.parametrize("count", COUNTS)
def test_a_row_that_the_database_refuses_is_an_integrity_error_and_none_is_stored(db, count):
    patient = people(1)[0]
    patient.save()
    same = [Identifier(patient=patient, scheme="nhs-number", value="9990000018", as_typed="x") for _ in range(count)]
    with pytest.raises(IntegrityError), transaction.atomic():
        insert(same)
    assert not Identifier.objects.exists()


def test_no_rows_are_no_statement(db, django_assert_num_queries):
    with django_assert_num_queries(0):
        insert([])
        insert_keyed([])
        rewrite([], ["given"])
