"""What closed the skin, by the generic name of the material.

Classes: gut, polyglactin, poliglecaprone, polydioxanone, nylon, polypropylene and silk as in suppliers' tables, which
`tests/parsing/test_sutures.py` names; steel, polyester and glue from memory.
A word that is not known is refused, never guessed: the class decides whether stitches have to be taken out.
"""

import re
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing.text import is_blank, plain, quoted, read_text
from caseload.timetable.terms import Suture

_CLASS = {
    Suture.NON_ABSORBABLE: ("non-absorbable", "nonabsorbable", "not absorbable", "non-dissolvable", "non-dissolving"),
    Suture.ABSORBABLE: ("absorbable", "dissolvable", "dissolving", "soluble"),
    Suture.NONE: ("none", "no", "nil", "no stitches", "no stitch", "no sutures", "no suture", "without stitches"),
    Suture.UNKNOWN: ("", "?", "??", "unknown", "not known", "not recorded", "tbc"),
}
_MATERIAL = {
    Suture.NON_ABSORBABLE: ("nylon", "polypropylene", "silk", "steel", "polyester"),
    Suture.ABSORBABLE: ("gut", "catgut", "polyglactin", "poliglecaprone", "polydioxanone"),
    Suture.NONE: ("glue", "cyanoacrylate", "strips", "strip"),
}
_SUTURE = {word: suture for suture, words in (*_CLASS.items(), *_MATERIAL.items()) for word in words}
_MATERIALS = frozenset(word for words in _MATERIAL.values() for word in words)
_FILLERS = frozenset({
    "and", "with", "plus", "+", "&", "suture", "sutures", "stitch", "stitches", "skin", "dyed", "undyed", "910", "25",
    "interrupted", "continuous", "subcuticular", "simple", "mattress", "braided", "monofilament",
    "plain", "chromic", "fast-absorbing", "rapid", "adhesive", "paper", "tissue", "stainless",
})  # fmt: skip
_SIZE = re.compile(r"\d{1,2}[/.\-\u2013]0|\d{1,2}\.\d")
LONGEST_MATERIAL = 60
_WORD = re.compile(r"[^\s,;()]+")
_KNOWN = "nylon, polypropylene, silk, steel, polyester, gut, polyglactin, poliglecaprone, polydioxanone, glue or strips"


class ClosedWith(NamedTuple):
    """The class, and the material as it was written ("" where only a class was)."""

    suture: Suture
    material: str


def read_suture(text: str) -> ClosedWith:
    """Empty or `?` is unknown, which is a fact to be asked for. Raises Refusal `suture-unknown-word`, `suture-both`."""
    phrase = re.sub(r"\bnon[ -]+", "non-", plain(text)).strip(" .")
    if is_blank(text) or phrase in _SUTURE and phrase not in _MATERIALS:
        return ClosedWith(_SUTURE.get(phrase, Suture.UNKNOWN), "")
    words = [word for word in _WORD.findall(phrase) if word not in _FILLERS and not _SIZE.fullmatch(word)]
    found = {_named(text, word) for word in words}
    stitched = found - {Suture.NONE}
    if len(stitched) > 1:
        raise Refusal("suture-both", f"{quoted(text)} names two classes: give the one in the skin, the rest as a note.")
    if not found:
        raise _unknown(text, phrase)
    material = read_text(text, most=LONGEST_MATERIAL) if _MATERIALS.intersection(words) else ""
    return ClosedWith(next(iter(stitched), Suture.NONE), material)


def _named(text: str, word: str) -> Suture:
    """The class of one word inside a phrase; there "no" and "unknown" say nothing certain and are refused."""
    suture = _SUTURE.get(word)
    if suture is None or suture is Suture.UNKNOWN or (suture is Suture.NONE and word not in _MATERIALS):
        raise _unknown(text, word)
    return suture


def _unknown(text: str, word: str) -> Refusal:
    remedy = f"write non-absorbable, absorbable, none or ?, or a generic material ({_KNOWN})"
    return Refusal("suture-unknown-word", f"{quoted(text)}: {quoted(word)} is not known: {remedy}.")
