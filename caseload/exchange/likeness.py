"""Whether two entries are the same person: by number, name and birth date.

Two entries are only ever held to be anything but different if they share a number, the whole name or the birth date,
so candidates can be found by these three. A slip is one letter of the name, or one digit, two neighbouring digits or
day and month of the birth date; two slips at once are two persons, unless a number is shared.
"""

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from caseload.parsing import Identifier, Scheme, in_words, search_key


class Verdict(StrEnum):
    SAME = "same"
    DOUBTFUL = "doubtful"
    DIFFERENT = "different"


class PersonKey(NamedTuple):
    """What persons are compared by; names in the form of `search_key`, numbers in normal form."""

    given: str
    family: str
    born_on: date | None
    numbers: frozenset[tuple[str, str]]

    @property
    def name(self) -> tuple[str, str]:
        return self.given, self.family


class Likeness(NamedTuple):
    """`reason` is half a sentence for staff: what is shared, and what speaks against it."""

    verdict: Verdict
    reason: str


def person_key(given: str, family: str, born_on: date | None, numbers: Iterable[Identifier | None]) -> PersonKey:
    shared = frozenset((str(number.scheme), number.value) for number in numbers if number)
    return PersonKey(search_key(given), search_key(family), born_on, shared)


def likeness(a: PersonKey, b: PersonKey) -> Likeness:
    """`same`: take them for one person. `doubtful`: somebody must look. Symmetric."""
    if shared := a.numbers & b.numbers:
        return _of_one_number(a, b, _LABEL[min(shared)[0]])
    if a.name == b.name:
        return _of_one_name(a, b)
    if a.born_on is None or a.born_on != b.born_on or _differ(a, b, Scheme.NHS):
        return Likeness(Verdict.DIFFERENT, "another name and another birth date or NHS number")
    if _near_names(a, b):
        return Likeness(Verdict.DOUBTFUL, f"the same birth date and a name that is nearly the same ({_named(b)})")
    return Likeness(Verdict.DIFFERENT, "another name")


_LABEL = {str(Scheme.NHS): "NHS number", str(Scheme.HOSPITAL): "hospital number"}


def _of_one_number(a: PersonKey, b: PersonKey, label: str) -> Likeness:
    if a.name != b.name:
        return Likeness(Verdict.DOUBTFUL, f"the same {label} under another name ({_named(b)})")
    if a.born_on and b.born_on and a.born_on != b.born_on:
        return Likeness(Verdict.DOUBTFUL, f"the same {label} with another birth date ({in_words(b.born_on)})")
    if _differ(a, b, Scheme.NHS):
        return Likeness(Verdict.DOUBTFUL, f"the same {label} with another NHS number")
    return Likeness(Verdict.SAME, f"the same {label} and name")


def _of_one_name(a: PersonKey, b: PersonKey) -> Likeness:
    if a.born_on is None or b.born_on is None:
        return Likeness(Verdict.DOUBTFUL, "the same name, and a birth date is missing")
    if a.born_on == b.born_on:
        if other := _other_number(a, b):
            return Likeness(Verdict.DOUBTFUL, f"the same name and birth date with another {_LABEL[other]}")
        return Likeness(Verdict.SAME, "the same name and birth date")
    if near_days(a.born_on, b.born_on) and not _differ(a, b, Scheme.NHS):
        nearly = f"a birth date that is nearly the same ({in_words(b.born_on)})"
        return Likeness(Verdict.DOUBTFUL, f"the same name and {nearly}")
    return Likeness(Verdict.DIFFERENT, "the same name with another birth date")


def _other_number(a: PersonKey, b: PersonKey) -> Scheme | None:
    """The first scheme in which both have numbers and share none."""
    return next((scheme for scheme in Scheme if _differ(a, b, scheme)), None)


def _differ(a: PersonKey, b: PersonKey, scheme: Scheme) -> bool:
    mine, theirs = ({value for of, value in key.numbers if of == scheme} for key in (a, b))
    return bool(mine and theirs and not mine & theirs)


def _named(key: PersonKey) -> str:
    return f"{key.given} {key.family}".title()


def near_days(a: date, b: date) -> bool:
    """One digit differs, two neighbouring digits are exchanged, or day and month are."""
    if a.year != b.year and a.month != b.month and a.day != b.day:
        return False
    if a != b and (a.year, a.month, a.day) == (b.year, b.day, b.month):
        return True
    return _one_slip(a.isoformat().replace("-", ""), b.isoformat().replace("-", ""))


def _near_names(a: PersonKey, b: PersonKey) -> bool:
    swapped = (b.family, b.given)
    if a.name == swapped:
        return True
    given, family = a.given == b.given, a.family == b.family
    return given and near_words(a.family, b.family) or family and near_words(a.given, b.given)


def near_words(a: str, b: str) -> bool:
    """One letter differs, is missing, or two neighbours are exchanged; an initial stands for its name."""
    if 1 in (len(a), len(b)):
        return a[:1] == b[:1]
    if len(a) == len(b):
        return _one_slip(a, b)
    short, long = sorted((a, b), key=len)
    return len(long) - len(short) == 1 and any(long[:i] + long[i + 1 :] == short for i in range(len(long)))


def _one_slip(a: str, b: str) -> bool:
    places = [i for i, (x, y) in enumerate(zip(a, b, strict=True)) if x != y]
    if len(places) == 2:
        i, j = places
        return j == i + 1 and a[i] == b[j] and a[j] == b[i]
    return len(places) == 1
