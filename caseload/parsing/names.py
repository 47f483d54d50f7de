"""Names: kept as typed, compared by one normal form."""

import re
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing.text import plain, quoted, tidy

_APOSTROPHES = str.maketrans(dict.fromkeys("'\u2019\u2018\u02bc`\u00b4", ""))
_NOT_LETTERS = re.compile(r"[\W_]+")
_TITLES = frozenset({"mr", "mrs", "ms", "miss", "mx", "dr", "prof"})
_FORBIDDEN = re.compile(r"[\d<>{}\[\]@=*\\|;:!?\"]")
_LONGEST = 80


class SplitName(NamedTuple):
    """`certain`: a comma, capitals or a known order settled which part is the family name."""

    given: str
    family: str
    certain: bool


def search_key(*names: str) -> str:
    """The one form in which names are compared: small, without accents, O'Brien as `obrien`, hyphens as spaces."""
    joined = " ".join(names).translate(_APOSTROPHES)
    return _NOT_LETTERS.sub(" ", plain(joined)).strip()


def read_name(text: str) -> str:
    """One name as typed, on one line. Raises Refusal `name-missing`, `name-not-a-name`, `name-too-long`."""
    name = tidy(text)
    if not search_key(name):
        raise Refusal("name-missing", "The name is missing: write the given name and the family name.")
    if _FORBIDDEN.search(name):
        raise Refusal(
            "name-not-a-name", f"{quoted(text)} is not a name: letters, spaces, hyphens and apostrophes only."
        )
    if len(name) > _LONGEST:
        raise Refusal("name-too-long", f"{quoted(text)} is longer than {_LONGEST} characters: shorten it.")
    return name


def split_name(text: str, *, family_first: bool | None = None) -> SplitName:
    """Both names from one cell: `SMITH, John`, `John SMITH`, or the stated order; without any, given names first.

    Raises Refusal `name-one-word` and those of `read_name`.
    """
    family, comma, given = tidy(text).partition(",")
    if comma:
        return SplitName(read_name(_untitled(given)), read_name(_untitled(family)), True)
    words = _untitled(text).split()
    if len(words) < 2:
        remedy = "write the family name, a comma and the given name"
        raise Refusal("name-one-word", f"{quoted(text)} is one name: {remedy}.")
    capitals = _capitals(words)
    settled = bool(capitals) or (family_first is not None and len(words) == 2)
    place = capitals or (range(1) if family_first else range(len(words) - 1, len(words)))
    inside = " ".join(words[i] for i in place)
    outside = " ".join(word for i, word in enumerate(words) if i not in place)
    return SplitName(read_name(outside), read_name(inside), settled)


def _capitals(words: list[str]) -> range:
    """The places of the words in capitals, if they stand together at one end and the others are not in capitals."""
    shouted = [len(word) > 1 and word.isupper() for word in words]
    count = sum(shouted)
    if 0 < count < len(words):
        for place in (range(count), range(len(words) - count, len(words))):
            if all(shouted[i] for i in place):
                return place
    return range(0)


def _untitled(text: str) -> str:
    words = re.sub(r"[()]", " ", text).split()
    return " ".join(word for word in words if word.casefold().rstrip(".") not in _TITLES)
