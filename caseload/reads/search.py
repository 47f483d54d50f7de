"""Finding a patient by what somebody typed: part of a name, a number, a telephone number or a birth date.

Whoever reaches only their own patients finds somebody else's by what is exact alone: a whole number, or a birth date
with the family name. Then it is told that there is one, and not who. The same is asked of the database whether there
is nobody or somebody who is not named exactly, so that neither the page nor its time tells one from the other; only
of a text that finds hundreds more is asked.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator
from datetime import date
from itertools import chain
from typing import NamedTuple

from django.db import connection
from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Coalesce

from caseload.errors import Refusal
from caseload.models import Episode, Identifier, Patient
from caseload.parsing import phone_key, read_birth_date, search_key, tidy
from caseload.parsing.identifiers import Scheme
from caseload.reads.reach import Reader, seen_by, unseen_by

LETTERS, DIGITS = 2, 4
"""The least that is searched for: shorter would find half the clinic."""
SHOWN, MOST = 50, 200
NOBODY = 0
"""A key that no patient has."""
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


class Other(NamedTuple):
    """Somebody else's patient whom the text names exactly: nothing is told but the code to open the record with."""

    id: int
    code: str


class Found(NamedTuple):
    """`looked_for` says what the text was taken for, `more` that not all are shown."""

    matches: list[Match]
    looked_for: tuple[str, ...]
    more: bool = False
    others: tuple[Other, ...] = ()

    @property
    def many(self) -> int:
        return len(self.matches) + len(self.others)


class Try(NamedTuple):
    """What the text may be, and who is known by it; `exact` if it can be nobody else."""

    name: str
    patients: QuerySet[Patient]
    exact: bool = False


def find(text: str, today: date, reader: Reader | None = None) -> Found:
    """Patients that a text may mean. Raises Refusal `search-too-short`, `text-too-long`, `control-character`."""
    asked = tidy(text)
    tries = _by_numbers(asked, today) if any(letter.isdigit() for letter in asked) else _by_name(asked)
    known = [(each, _first(each.patients)) for each in tries]
    unseen = unseen_by(reader, chain([NOBODY], *(keys for _, keys in known)))
    ids = list(dict.fromkeys(chain.from_iterable(_seen(each, keys, unseen, reader) for each, keys in known)))
    named = unseen.intersection(chain.from_iterable(keys for each, keys in known if each.exact))
    looked_for = tuple(dict.fromkeys(each.name for each in tries))
    return Found(_matches(ids[:SHOWN]), looked_for, len(ids) > SHOWN, _others(named))


def _first(patients: QuerySet[Patient]) -> list[int]:
    return list(patients.values_list("pk", flat=True)[:MOST])


def _seen(asked: Try, keys: list[int], unseen: frozenset[int], reader: Reader | None) -> list[int]:
    """Whom of them a reader sees. Only where there may be more than were looked at is it asked again, reach first."""
    if len(keys) == MOST and not unseen.isdisjoint(keys):
        return _first(seen_by(reader, asked.patients, "pk"))
    return [key for key in keys if key not in unseen]


def _others(keys: Collection[int]) -> tuple[Other, ...]:
    if not keys:
        return ()
    return tuple(Other(*row) for row in Patient.objects.filter(pk__in=keys).order_by("pk").values_list("pk", "code"))


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
    return [Try("a name", _everybody().filter(asked_for)) for asked_for in (*starts, anywhere)]


def _everybody() -> QuerySet[Patient]:
    """Said as what is left out: SQLite takes IS NULL for something that few have, and reads them all by that index."""
    return Patient.objects.exclude(merged_into__isnull=False).order_by("search_key", "pk")


def _few() -> QuerySet[Patient]:
    """The same for what few have. Sorted by no column as it stands: read in the order of its index, as a database
    likes to where it will be sorted by it, everybody would be looked at until the few are met."""
    return _everybody().order_by(Coalesce("search_key", Value("")), "pk")


def _starting(key: str) -> Q:
    """Names that begin with `key`. As a range, because SQLite does not use an index for LIKE."""
    if connection.vendor == "sqlite":
        return Q(search_key__gte=key, search_key__lt=key + LAST_LETTER)
    return Q(search_key__startswith=key)


def _by_numbers(asked: str, today: date) -> list[Try]:
    compact = re.sub(r"[ \-]", "", asked).upper()
    if sum(letter.isdigit() for letter in compact) < DIGITS:
        raise Refusal("search-too-short", f"Type at least {DIGITS} digits of a number, or a whole birth date.")
    numbers = Identifier.objects.filter(scheme__in=Scheme, value__in={compact, asked.replace(" ", "").upper()})
    patients = _few()
    tries = [Try("a number", patients.filter(pk__in=numbers.values("patient")), exact=True)]
    born_on = _birth_date(asked, today)
    if born_on:
        tries.append(Try("a birth date", patients.filter(born_on=born_on)))
    elif named := list(_names_with_birth_dates(asked, today)):
        tries.append(Try("a name with a birth date", patients.filter(pk__in=_of_name_and_birth(named)), exact=True))
    phone = phone_key(asked)
    if len(phone) > DIGITS and re.fullmatch(r"[+()\d .\-/]+", asked):
        tries.append(Try("a telephone number", patients.filter(phone_key__gte=phone, phone_key__lt=phone + ":")))
    return tries


def _names_with_birth_dates(asked: str, today: date) -> Iterator[tuple[str, date]]:
    """Each way to read the text as a name before or after a birth date; the name in its normal form."""
    words = asked.replace(",", " ").split()
    for place in range(1, len(words)):
        halves = (" ".join(words[:place]), " ".join(words[place:]))
        for name, day in (halves, halves[::-1]):
            born_on = None if any(letter.isdigit() for letter in name) else _birth_date(day, today)
            if born_on and search_key(name):
                yield search_key(name), born_on


def _of_name_and_birth(named: Iterable[tuple[str, date]]) -> list[int]:
    """Who has exactly this family name, or both names in either order, and was born on the day."""
    wanted = set(named)
    rows = Patient.objects.filter(born_on__in={born_on for _, born_on in wanted})
    fields = ("pk", "family", "given", "born_on")
    return [
        key
        for key, family, given, born_on in rows.values_list(*fields)
        if any((search_key(*name), born_on) in wanted for name in ((family,), (family, given), (given, family)))
    ]


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
