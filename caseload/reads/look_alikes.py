"""Patients who may be the one that is being added: compared as a theatre list is compared."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.db.models import Q

from caseload.exchange.likeness import PersonKey, Verdict, likeness, person_key
from caseload.models import Identifier as Number
from caseload.models import Patient
from caseload.parsing import Identifier, Scheme, search_key
from caseload.reads.reach import Reader, unseen_by

MOST = 200
SHOWN = 8


class LookAlike(NamedTuple):
    """`why` is half a sentence: what is shared, and what speaks against it.

    Of somebody else's patient, who is not `yours`, it says only that somebody like this is known, and which of what
    was typed is the same: enough that nobody is added twice, which is the danger here, and nothing that was not typed.
    """

    code: str
    name: str
    born_on: date | None
    why: str
    yours: bool = True


def look_alikes(
    given: str, family: str, born_on: date | None, numbers: Iterable[Identifier], reader: Reader | None = None
) -> list[LookAlike]:
    """Those already known who are or may be this person, at most eight; three queries however many there are."""
    numbers = list(numbers)
    asked = person_key(given, family, born_on, numbers)
    alike = Q(search_key__in=[search_key(given, family), search_key(family, given)])
    for number in numbers:
        alike |= Q(pk__in=Number.objects.filter(scheme=number.scheme, value=number.value).values("patient"))
    if born_on:
        alike |= Q(born_on=born_on)
    found = []
    for row in Patient.objects.filter(alike, merged_into__isnull=True).prefetch_related("identifiers")[:MOST]:
        own = _key_of(row)
        verdict, why = likeness(asked, own)
        if verdict != Verdict.DIFFERENT:
            found.append((row, LookAlike(row.code, str(row), row.born_on, why), own))
    others = unseen_by(reader, (row.pk for row, *_ in found[:SHOWN]))
    return [_other(each, asked, own) if row.pk in others else each for row, each, own in found[:SHOWN]]


def _other(each: LookAlike, asked: PersonKey, own: PersonKey) -> LookAlike:
    if asked.numbers & own.numbers:
        why = "a number that was typed is theirs"
    elif asked.name == own.name and asked.born_on and asked.born_on == own.born_on:
        why = "the same name and birth date"
    else:
        why = "nearly the same name and birth date"
    return LookAlike(each.code, "", None, why, yours=False)


def _key_of(row: Patient) -> PersonKey:
    numbers = [Identifier(Scheme(own.scheme), own.value, own.as_typed) for own in row.identifiers.all()]
    return person_key(row.given, row.family, row.born_on, numbers)
