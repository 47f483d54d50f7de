"""Short answers: yes or no, counts, technique, priority, healing risks."""

import re
from enum import StrEnum
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing.text import is_blank, plain, quoted, tidy
from caseload.timetable.terms import Technique


class Priority(StrEnum):
    ROUTINE = "routine"
    URGENT = "urgent"


class Risk(StrEnum):
    """What may slow the healing of a wound (common practice)."""

    DIABETES = "diabetes"
    STEROID = "systemic-steroid"
    ARTHRITIS = "inflammatory-arthritis"
    SMOKING = "smoking"
    DIALYSIS = "dialysis-or-transplant"
    ANTICOAGULANT = "anticoagulant"
    INJECTION = "recent-steroid-injection"
    MANUAL_OVER_50 = "over-50-manual-work"


_YES = frozenset({"yes", "y", "true", "t", "1", "x", "\u2713", "\u2714"})
_NO = frozenset({"no", "n", "false", "f", "0", "none", "nil"})
_TECHNIQUE = {
    "open": Technique.OPEN,
    "open release": Technique.OPEN,
    "o": Technique.OPEN,
    "percutaneous": Technique.PERCUTANEOUS,
    "percutaneous release": Technique.PERCUTANEOUS,
    "perc": Technique.PERCUTANEOUS,
    "needle": Technique.PERCUTANEOUS,
    "needle release": Technique.PERCUTANEOUS,
}
_PRIORITY = {"routine": Priority.ROUTINE, "r": Priority.ROUTINE, "urgent": Priority.URGENT, "u": Priority.URGENT}
_RISK_WORDS = {
    Risk.DIABETES: ("diabetes", "diabetic", "dm", "type 1 diabetes", "type 2 diabetes"),
    Risk.STEROID: ("systemic steroid", "systemic steroids", "oral steroid", "oral steroids", "steroids"),
    Risk.ARTHRITIS: ("inflammatory arthritis", "rheumatoid arthritis", "rheumatoid", "ra"),
    Risk.SMOKING: ("smoking", "smoker", "smokes"),
    Risk.DIALYSIS: ("dialysis", "transplant", "dialysis or transplant"),
    Risk.ANTICOAGULANT: ("anticoagulant", "anticoagulants", "anticoagulated", "warfarin"),
    Risk.INJECTION: ("recent steroid injection", "steroid injection", "recent injection"),
    Risk.MANUAL_OVER_50: ("over 50 manual work", "age over 50 with manual work", "manual work over 50"),
}
_RISK = {word: risk for risk, words in _RISK_WORDS.items() for word in words} | {risk.value: risk for risk in Risk}


class Risks(NamedTuple):
    """The risks named, and the words that are none of them, as written."""

    known: tuple[Risk, ...]
    unknown: tuple[str, ...]


def read_yes_no(text: str) -> bool:
    """Raises Refusal `answer-unknown`."""
    word = plain(text)
    if word in _YES or word in _NO:
        return word in _YES
    raise Refusal("answer-unknown", f"{quoted(text)} is neither yes nor no: write yes or no.")


def read_count(text: str, *, most: int) -> int:
    """A whole number from 0 to `most`. Raises Refusal `count-unreadable`, `count-out-of-range`."""
    if not (found := re.fullmatch(r"(\d{1,9})(?:\.0+)?", tidy(text), re.ASCII)):
        raise Refusal("count-unreadable", f"{quoted(text)} is not a count: write a whole number such as 3.")
    count = int(found[1])
    if count > most:
        raise Refusal("count-out-of-range", f"{count} is more than can be: write a number from 0 to {most}.")
    return count


def read_technique(text: str) -> Technique:
    """Raises Refusal `technique-unknown`."""
    technique = _TECHNIQUE.get(plain(text))
    if technique is None:
        raise Refusal("technique-unknown", f"{quoted(text)} is not a technique: write open or percutaneous.")
    return technique


def read_priority(text: str) -> Priority:
    """`urgent` or `routine`; yes and no answer the heading "urgent". Raises Refusal `priority-unknown`."""
    word = plain(text)
    if word in _YES or word in _NO:
        return Priority.URGENT if word in _YES else Priority.ROUTINE
    if word not in _PRIORITY:
        raise Refusal("priority-unknown", f"{quoted(text)} is not a priority: write routine or urgent.")
    return _PRIORITY[word]


def read_risks(text: str) -> Risks:
    """A list divided by commas, semicolons, slashes, plus signs or lines. "No diabetes" is not diabetes: unknown."""
    parts = [part.strip() for part in re.split(r"[,;/+\n]", text)]
    named = [part for part in parts if not is_blank(part) and plain(part) not in _NO]
    known = dict.fromkeys(_RISK[plain(part)] for part in named if plain(part) in _RISK)
    return Risks(tuple(known), tuple(tidy(part) for part in named if plain(part) not in _RISK))
