"""Which hand and which digits, from the words and short forms that lists use (common practice).

Nothing is guessed: `RF` is the ring finger only where the side is known otherwise (it is also "right finger"), and
"4th finger" is refused, because people count with and without the thumb.
"""

import re
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing.text import plain, quoted
from caseload.timetable.terms import Digit, Side

_SIDES = {"l": Side.LEFT, "lt": Side.LEFT, "lh": Side.LEFT, "lhs": Side.LEFT, "left": Side.LEFT}
_SIDES |= {"r": Side.RIGHT, "rt": Side.RIGHT, "rh": Side.RIGHT, "rhs": Side.RIGHT, "right": Side.RIGHT}
_BOTH = frozenset({"both", "bilateral", "bilat", "l/r", "r/l", "l+r", "r+l", "l&r", "r&l", "left and right"})

_DIGITS = {
    Digit.THUMB: ("thumb",),
    Digit.INDEX: ("index", "if", "forefinger"),
    Digit.MIDDLE: ("middle", "mf"),
    Digit.RING: ("ring",),
    Digit.LITTLE: ("little",),
}
_DIGIT = {word: digit for digit, words in _DIGITS.items() for word in words}
_TWO_SENSES = {"rf": Digit.RING, "lf": Digit.LITTLE}
_SHORT = {"if": Digit.INDEX, "mf": Digit.MIDDLE, "rf": Digit.RING, "lf": Digit.LITTLE}
_JOINED = {f"{side[0]}{short}": (side, digit) for side in Side for short, digit in _SHORT.items()}
_THUMB_OR_SIDE = frozenset({"rt", "lt"})
_FILLERS = frozenset({"finger", "fingers", "hand", "trigger", "release", "digit", "digits", "of", "the", "and", "a1",
                      "pulley"})  # fmt: skip
_SPAN = frozenset({"-", "to", "through"})
_COUNTED = re.compile(r"d?[1-5](?:st|nd|rd|th)?|first|second|third|fourth|fifth")
_WORD = re.compile(r"[^\s,;/+&().:]+")
_REMEDY = "write thumb, index, middle, ring or little"


class HandDigits(NamedTuple):
    """What one cell says: the side if it names one, and one digit or several, each once, in the order written."""

    side: Side | None
    digits: tuple[Digit, ...]


def read_side(text: str) -> Side:
    """Raises Refusal `side-missing`, `side-both`, `side-unknown`."""
    words = plain(text).strip(".()")
    if not words:
        raise Refusal("side-missing", "The side is missing: write left or right.")
    if words in _BOTH:
        raise _both(text)
    side = _SIDES.get(words.removesuffix("hand").strip(" ."))
    if side is None:
        raise Refusal("side-unknown", f"{quoted(text)} is not a side: write left or right.")
    return side


def read_digits(text: str, *, side_known: bool = False) -> HandDigits:
    """Digits, perhaps with their side (`R ring`, `RRF`, `left ring and middle`); `side_known`: given elsewhere.

    Raises Refusal `digit-missing`, `digit-unknown`, `digit-counted`, `digit-two-senses`, `digit-range`, `side-both`.
    """
    words = _words(text)
    sides, digits, unsure = _sort_out(text, words)
    if len(sides) > 1:
        raise _both(text)
    side = next(iter(sides), None)
    if unsure and not (side or side_known):
        raise _two_senses(text, unsure)
    if not digits:
        raise _no_digit(text, words)
    if len(digits) > 1 and _SPAN.intersection(words):
        raise Refusal("digit-range", f"{quoted(text)} reads as a range: name each digit, such as index, middle, ring.")
    return HandDigits(side, tuple(dict.fromkeys(digits)))


def _words(text: str) -> list[str]:
    return _WORD.findall(plain(text).replace("-", " - ").replace("\u2013", " - "))


def _sort_out(text: str, words: list[str]) -> tuple[set[Side], list[Digit], list[str]]:
    sides: set[Side] = set()
    digits: list[Digit] = []
    unsure: list[str] = []
    for word in words:
        if word in _DIGIT:
            digits.append(_DIGIT[word])
        elif word in _TWO_SENSES:
            unsure.append(word)
            digits.append(_TWO_SENSES[word])
        elif word in _SIDES:
            sides.add(_SIDES[word])
        elif word in _JOINED:
            sides.add(_JOINED[word][0])
            digits.append(_JOINED[word][1])
        elif word not in _FILLERS and word not in _SPAN:
            raise _unknown(text, word)
    return sides, digits, unsure


def _both(text: str) -> Refusal:
    return Refusal("side-both", f"{quoted(text)} names both hands: give one row for each hand.")


def _unknown(text: str, word: str) -> Refusal:
    if word in _BOTH:
        return _both(text)
    if _COUNTED.fullmatch(word):
        return Refusal("digit-counted", f"{quoted(text)} counts, with or without the thumb: {_REMEDY}.")
    return Refusal("digit-unknown", f"{quoted(text)}: {quoted(word)} is not a digit: {_REMEDY}.")


def _two_senses(text: str, unsure: list[str]) -> Refusal:
    digit = _TWO_SENSES[unsure[0]]
    side = Side.RIGHT if digit is Digit.RING else Side.LEFT
    senses = f"the {digit} finger or a finger of the {side} hand"
    return Refusal("digit-two-senses", f"{quoted(text)} can mean {senses}: write the side and the digit in full.")


def _no_digit(text: str, words: list[str]) -> Refusal:
    if _THUMB_OR_SIDE.intersection(words):
        return Refusal("digit-two-senses", f"{quoted(text)} can mean a side or its thumb: write it in full.")
    if not words:
        return Refusal("digit-missing", f"The digit is missing: {_REMEDY}.")
    return Refusal("digit-missing", f"{quoted(text)} names no digit: {_REMEDY}.")
