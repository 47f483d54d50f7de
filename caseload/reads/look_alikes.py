"""Patients who may be the one that is being added: compared as a theatre list is compared."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.db.models import Q

from caseload.exchange.likeness import PersonKey, Verdict, likeness, person_key
from caseload.models import Identifier as Number
from caseload.models import Patient
from caseload.parsing import Identifier, Scheme, search_key

MOST = 200
SHOWN = 8


class LookAlike(NamedTuple):
    """`why` is half a sentence: what is shared, and what speaks against it."""

    patient: Patient
    why: str


def look_alikes(given: str, family: str, born_on: date | None, numbers: Iterable[Identifier]) -> list[LookAlike]:
    """Those already known who are or may be this person, at most eight; two queries however many there are."""
    numbers = list(numbers)
    asked = person_key(given, family, born_on, numbers)
    alike = Q(search_key__in=[search_key(given, family), search_key(family, given)])
    for number in numbers:
        alike |= Q(pk__in=Number.objects.filter(scheme=number.scheme, value=number.value).values("patient"))
    if born_on:
        alike |= Q(born_on=born_on)
    found = []
    for row in Patient.objects.filter(alike, merged_into__isnull=True).prefetch_related("identifiers")[:MOST]:
        verdict, why = likeness(asked, _key_of(row))
        if verdict != Verdict.DIFFERENT:
            found.append(LookAlike(row, why))
    return found[:SHOWN]


def _key_of(row: Patient) -> PersonKey:
    numbers = [Identifier(Scheme(own.scheme), own.value, own.as_typed) for own in row.identifiers.all()]
    return person_key(row.given, row.family, row.born_on, numbers)
