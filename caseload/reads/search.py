"""Finding a patient by what somebody typed: part of a name, a number, a telephone number or a birth date.

Whoever reaches only their own patients finds somebody else's by what is exact alone: a whole number, or a birth date
with the family name. Then it is told that there is one, and not who. The same is asked of the database whether there
is nobody or somebody who is not named exactly, so that neither the page nor its time tells one from the other; only
of a text that finds hundreds more is asked: of everybody first, then of those whom they reach.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date
from itertools import chain
from typing import Any, Final, NamedTuple

from django.db.models import QuerySet

from caseload.errors import Refusal
from caseload.models import Patient
from caseload.parsing import phone_key, read_birth_date, search_key, tidy
from caseload.reads.prepared import Prepared, Value
from caseload.reads.reach import Limits, Reader, few_within, limits_of
from caseload.reads.search_ways import BEGINNING, BORN, HOLDING, MOST, NAMED, NUMBERED, RUNG, SHOWN, Way, range_of

LETTERS, DIGITS = 2, 4
"""The least that is searched for: shorter would find half the clinic."""
NOBODY = 0
"""A key that no patient has."""


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
    way: Way
    values: tuple[Value, ...]
    exact: bool = False

    def keys(self, limits: Limits | None) -> list[int]:
        """Where there may be more than were looked at, only those within reach."""
        known = self.way.first(*self.values)
        if limits and len(known) == MOST and not self.exact:
            known = self.way.first(*self.values, limits=limits)
        return [key for key, _ in known]


def find(text: str, today: date, reader: Reader | None = None) -> Found:
    """Patients that a text may mean. Raises Refusal `search-too-short`, `text-too-long`, `control-character`."""
    asked, limits = tidy(text), limits_of(reader)
    if not any(letter.isdigit() for letter in asked):
        return _found(_by_name(asked, limits), ("a name",), limits)
    tries = _by_numbers(asked, today)
    known = [each.keys(limits) for each in tries]
    exact = chain.from_iterable(keys for each, keys in zip(tries, known, strict=True) if each.exact)
    looked_for = tuple(dict.fromkeys(each.name for each in tries))
    return _found([*dict.fromkeys(chain.from_iterable(known))], looked_for, limits, [*exact])


def _found(keys: Sequence[int], looked_for: tuple[str, ...], limits: Limits | None, exact: Sequence[int] = ()) -> Found:
    people = _people([NOBODY, *keys], limits) if limits else _people(keys[: SHOWN + 1], None)
    ids = [key for key in keys if key in people]
    matches = _matches([people[key] for key in ids[:SHOWN]])
    others = {key for key in exact if key not in people} if limits else ()
    return Found(matches, looked_for, len(ids) > SHOWN, _others(others))


def _others(keys: Collection[int]) -> tuple[Other, ...]:
    if not keys:
        return ()
    return tuple(Other(*row) for row in Patient.objects.filter(pk__in=keys).order_by("pk").values_list("pk", "code"))


def _by_name(asked: str, limits: Limits | None) -> list[int]:
    """Names that begin with what was asked for, those that begin with its last word, and those that hold all words."""
    key = search_key(asked)
    if len(key) < LETTERS:
        raise Refusal("search-too-short", f"Type at least {LETTERS} letters of a name.")
    words = key.split()
    beginnings = list(dict.fromkeys((key, " ".join((words[-1], *words[:-1])))))
    holding = [f"%{word}%" for word in words]
    known = HOLDING.first(*holding)
    if len(known) < MOST:
        return [id for id, _ in sorted(known, key=lambda row: _rank(row[1], beginnings))]
    ids: dict[int, None] = {}
    for beginning in beginnings:
        ids |= dict.fromkeys(id for id, _ in BEGINNING.first(*range_of(beginning), limits=limits))
        if len(ids) > SHOWN:
            return [*ids][: SHOWN + 1]
    ids |= dict.fromkeys(id for id, _ in (HOLDING.first(*holding, limits=limits) if limits else known))
    return [*ids][: SHOWN + 1]


def _rank(name: str, beginnings: Sequence[str]) -> int:
    return next((place for place, each in enumerate(beginnings) if name.startswith(each)), len(beginnings))


def _by_numbers(asked: str, today: date) -> list[Try]:
    compact = re.sub(r"[ \-]", "", asked).upper()
    if sum(letter.isdigit() for letter in compact) < DIGITS:
        raise Refusal("search-too-short", f"Type at least {DIGITS} digits of a number, or a whole birth date.")
    tries = [Try("a number", NUMBERED, (compact, asked.replace(" ", "").upper()), exact=True)]
    born_on = _birth_date(asked, today)
    if born_on:
        tries.append(Try("a birth date", BORN, (born_on,)))
    elif named := list(_names_with_birth_dates(asked, today)):
        tries.append(Try("a name with a birth date", NAMED, (_of_name_and_birth(named),), exact=True))
    phone = phone_key(asked)
    if len(phone) > DIGITS and re.fullmatch(r"[+()\d .\-/]+", asked):
        tries.append(Try("a telephone number", RUNG, (phone, phone + ":")))
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


class Person(NamedTuple):
    """A patient as found, with numbers and episodes by their keys, each once and in order."""

    row: tuple[Any, ...]
    numbers: dict[int, str]
    episodes: dict[str, Hand]


_PERSON: Final = ("code", "family", "given", "born_on", "phone", "interpreter", "search_key")
_OWN: Final = 1 + len(_PERSON)


def _people(keys: Sequence[int], limits: Limits | None) -> dict[int, Person]:
    """Those of some patients who are within reach, by key."""
    found: dict[int, Person] = {}
    for row in _DETAILS(keys, *(limits or ())):
        person = found.setdefault(row[0], Person(row[1:_OWN], {}, {}))
        number, typed, *hand = row[_OWN:]
        if number:
            person.numbers[number] = typed
        if hand[0]:
            person.episodes[hand[0]] = Hand(*hand)
    return found


def _details(keys: Sequence[int], *limits: Any) -> QuerySet[Patient, Any]:
    """A row for each number and episode of a patient."""
    rows = Patient.objects.filter(pk__in=keys)
    rows = few_within(rows, Limits(*limits)) if limits else rows
    order = ("identifiers__scheme", "identifiers__value", "episodes__ended_on", "-episodes__surgery_on", "episodes__pk")
    hand = (f"episodes__{name}" for name in Hand._fields)
    return rows.order_by(*order).values_list("pk", *_PERSON, "identifiers__pk", "identifiers__as_typed", *hand)


_DETAILS: Final = Prepared(_details)


def _matches(people: Sequence[Person]) -> list[Match]:
    alike = Counter(each.row[-1] for each in people)
    return [
        Match._make((*row[:-1], alike[row[-1]] > 1, tuple(numbers.values()), tuple(episodes.values())))
        for row, numbers, episodes in people
    ]
