"""Whether a password may be chosen. Its length carries it; nothing is asked of its composition, and nothing of its age.

Source: NIST SP 800-63B-4 (2025), 3.1.1.2: at least 15 characters where a password is all that is asked for, at least 8
where a second factor is asked for too; no rules of composition; held against a list of common and expected passwords
and of words of the service and of the person. Lengths are in characters.
"""

import re
from collections.abc import Container, Iterable
from typing import Final

from caseload.errors import Refusal

ALONE: Final = 15
WITH_SECOND_FACTOR: Final = 8
LONGEST: Final = 1000
"""Longer than anybody types; hashing what is longer only costs time."""
SERVICE: Final = ("planner", "caseload", "clinic", "hospital", "hand", "therapy", "therapist", "password")
REPEATED: Final = 4
"""A stretch of up to so many characters that is said again and again is as easy to guess as the stretch."""
_WORD: Final = re.compile(r"[^\W_]{3,}")
_EDGES: Final = re.compile(r"^[\W\d_]+|[\W\d_]+$")


def is_short(password: str) -> bool:
    """Whether it holds only together with a second factor."""
    return len(password) < ALONE


def refuse_unfit(password: str, *, second_factor: bool, common: Container[str], own: Iterable[str]) -> None:
    """`common` holds common passwords in small letters; `own` are names of sites and of the person.

    Raises Refusal `password-short`, `password-long`, `password-common`, `password-expected`.
    """
    _refuse_length(password, second_factor)
    said = password.casefold()
    stretch = _stretch(said)
    if said in common or _EDGES.sub("", said) in common or stretch in common or len(stretch) <= REPEATED:
        raise Refusal("password-common", "This is among the first that are tried. Choose something less usual.")
    if found := _expected(said, [*SERVICE, *own]):
        raise Refusal(
            "password-expected",
            f"Without “{'”, “'.join(found)}”, which anybody would try here, too little is left of it. Use other words.",
        )


def _refuse_length(password: str, second_factor: bool) -> None:
    least = WITH_SECOND_FACTOR if second_factor else ALONE
    if len(password) < least:
        more = "" if second_factor else f" With a second factor {WITH_SECOND_FACTOR} are enough."
        said = f"It has {len(password)} characters and needs {least} or more; a few plain words do.{more}"
        raise Refusal("password-short", said)
    if len(password) > LONGEST:
        raise Refusal("password-long", f"It has {len(password):,} characters. {LONGEST:,} are the most.")


def _stretch(said: str) -> str:
    """The shortest beginning that, said again and again, gives it whole."""
    lengths = range(1, len(said) + 1)
    return next(said[:many] for many in lengths if (said[:many] * (len(said) // many + 1)).startswith(said))


def _expected(said: str, own: Iterable[str]) -> list[str]:
    """The expected words in it, if without them fewer than 8 letters or digits are left."""
    words = {word for text in own for word in _WORD.findall(text.casefold())}
    found = []
    for word in sorted(words, key=len, reverse=True):
        if word in said:
            found.append(word)
            said = said.replace(word, " ")
    left = sum(letter.isalnum() for letter in said)
    return found if left < WITH_SECOND_FACTOR else []
