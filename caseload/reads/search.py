"""Finding a patient by what somebody typed: part of a name, a number, a telephone number or a birth date."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.db import connection
from django.db.models import Q, QuerySet

from caseload.errors import Refusal
from caseload.models import Episode, Identifier, Patient
from caseload.parsing import phone_key, read_birth_date, search_key, tidy

LETTERS, DIGITS = 2, 4
"""The least that is searched for: shorter would find half the clinic."""
SHOWN, MOST = 50, 200
LAST_LETTER = "\uffff"


class Match(NamedTuple):
    """A patient who was found. `same_name` says that another one found has the same name."""

    code: str
    family: str
    given: str
    born_on: date | None
    phone: str
    interpreter: bool
    same_name: bool
    numbers: tuple[str, ...]
    episodes: tuple["Hand", ...]


class Hand(NamedTuple):
    """One episode of a patient who was found."""

    code: str
    side: str
    digit: str
    surgery_on: date | None
    ended_on: date | None


class Found(NamedTuple):
    """`looked_for` says what the text was taken for, `more` that not all are shown."""

    matches: list[Match]
    looked_for: tuple[str, ...]
    more: bool = False


def find(text: str, today: date) -> Found:
    """Patients that a text may mean. Raises Refusal `search-too-short`, `text-too-long`, `control-character`."""
    asked = tidy(text)
    tries = _by_numbers(asked, today) if any(letter.isdigit() for letter in asked) else _by_name(asked)
    ids: dict[int, None] = {}
    for _, patients in tries:
        if len(ids) < MOST:
            ids |= dict.fromkeys(patients.filter(merged_into__isnull=True).values_list("pk", flat=True)[:MOST])
    return Found(_matches(list(ids)[:SHOWN]), tuple(dict.fromkeys(name for name, _ in tries)), len(ids) > SHOWN)


Try = tuple[str, QuerySet[Patient]]


def _by_name(asked: str) -> list[Try]:
    key = search_key(asked)
    if len(key) < LETTERS:
        raise Refusal("search-too-short", f"Type at least {LETTERS} letters of a name.")
    words = key.split()
    anywhere = Q()
    for word in words:
        anywhere &= Q(search_key__contains=word)
    turned = " ".join((words[-1], *words[:-1]))
    starts = [_starting(key)] + ([_starting(turned)] if turned != key else [])
    everybody = Patient.objects.order_by("search_key", "pk")
    return [("a name", everybody.filter(start)) for start in starts] + [("a name", everybody.filter(anywhere))]


def _starting(key: str) -> Q:
    """Names that begin with `key`. As a range, because SQLite does not use an index for LIKE."""
    if connection.vendor == "sqlite":
        return Q(search_key__gte=key, search_key__lt=key + LAST_LETTER)
    return Q(search_key__startswith=key)


def _by_numbers(asked: str, today: date) -> list[Try]:
    compact = re.sub(r"[ \-]", "", asked).upper()
    if sum(letter.isdigit() for letter in compact) < DIGITS:
        raise Refusal("search-too-short", f"Type at least {DIGITS} digits of a number, or a whole birth date.")
    numbers = Identifier.objects.filter(value__in={compact, asked.replace(" ", "").upper()})
    patients = Patient.objects.order_by("search_key", "pk")
    tries = [("a number", patients.filter(pk__in=numbers.values("patient")))]
    born_on = _birth_date(asked, today)
    if born_on:
        tries.append(("a birth date", patients.filter(born_on=born_on)))
    phone = phone_key(asked)
    if len(phone) > DIGITS and re.fullmatch(r"[+()\d .\-/]+", asked):
        tries.append(("a telephone number", patients.filter(phone_key__gte=phone, phone_key__lt=phone + ":")))
    return tries


def _birth_date(asked: str, today: date) -> date | None:
    try:
        return read_birth_date(asked, today=today).on
    except Refusal:
        return None


def _matches(ids: list[int]) -> list[Match]:
    """Those found in the order of `ids`: the best first."""
    fields = ("pk", "code", "family", "given", "born_on", "phone", "interpreter", "search_key")
    rows = {row[0]: row[1:] for row in Patient.objects.filter(pk__in=ids).values_list(*fields)}
    numbers, episodes, alike = _numbers(ids), _episodes(ids), Counter(key for *_, key in rows.values())
    found = []
    for id in ids:
        code, family, given, born_on, phone, interpreter, key = rows[id]
        person = (code, family, given, born_on, phone, interpreter)
        found.append(Match(*person, alike[key] > 1, tuple(numbers[id]), tuple(episodes[id])))
    return found


def _numbers(ids: Iterable[int]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for row in Identifier.objects.filter(patient__in=ids).values_list("patient_id", "as_typed"):
        found[row[0]].append(row[1])
    return found


def _episodes(ids: Iterable[int]) -> dict[int, list[Hand]]:
    found: dict[int, list[Hand]] = defaultdict(list)
    rows = Episode.objects.filter(patient__in=ids).order_by("ended_on", "-surgery_on", "pk")
    for row in rows.values_list("patient_id", *Hand._fields):
        found[row[0]].append(Hand(*row[1:]))
    return found
