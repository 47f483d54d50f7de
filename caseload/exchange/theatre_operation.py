"""What was done: the cells of a theatre list row that say when, where on the hand, and how it was closed."""

from datetime import date
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.exchange.reading import Reading
from caseload.parsing import (
    ClosedWith,
    HandDigits,
    in_words,
    quoted,
    read_count,
    read_digits,
    read_side,
    read_suture,
    read_technique,
    read_text,
    read_written_date,
)
from caseload.parsing.sutures import LONGEST_MATERIAL
from caseload.timetable.terms import Digit, Side, Suture, Technique

MOST_STITCHES = 60
LONGEST_SURGEON = 120
PLANNED_DAYS = 365
"""How far ahead a planned surgery may lie."""
STALE_DAYS = 731
"""A surgery longer ago than this is more likely a slip of the year."""


class Operation(NamedTuple):
    """One surgery of one hand; None only where the row is refused."""

    surgery_on: date | None
    side: Side | None
    digits: tuple[Digit, ...]
    technique: Technique
    suture: Suture
    material: str
    stitches_in: int | None
    surgeon: str


def read_operation(reading: Reading) -> Operation:
    surgery_on = _read_surgery(reading)
    side, digits = _read_hand(reading)
    technique = reading.take("technique", read_technique, Technique.OPEN)
    closed = _read_closure(reading)
    stitches_in = reading.take("stitches_in", _count, None)
    _compare(reading, technique, closed.suture, stitches_in, len(digits))
    surgeon = reading.take("surgeon", lambda text: read_text(text, most=LONGEST_SURGEON), "")
    return Operation(surgery_on, side, digits, technique, closed.suture, closed.material, stitches_in, surgeon)


def _read_surgery(reading: Reading) -> date | None:
    surgery_on = reading.take_date("surgery_on", read_written_date)
    if surgery_on is None:
        if not reading.text("surgery_on"):
            reading.refuse("surgery_on", "surgery-date-missing", "The surgery date is missing: give it.")
        return None
    days_ahead = (surgery_on - reading.layout.today).days
    if days_ahead > PLANNED_DAYS:
        why = "is more than a year ahead"
        reading.refuse("surgery_on", "surgery-too-far-ahead", f"{in_words(surgery_on)} {why}: correct the year.")
    if days_ahead < -STALE_DAYS:
        why = "is more than two years ago"
        reading.doubt("surgery_on", "surgery-long-ago", f"{in_words(surgery_on)} {why}: confirm the year.")
    return surgery_on


def _read_hand(reading: Reading) -> tuple[Side | None, tuple[Digit, ...]]:
    stated = reading.text("side")
    side = reading.take("side", read_side, None)
    words = reading.text("digit")
    read, nothing = _digits_of_a_side if stated else read_digits, HandDigits(None, ())
    hand = reading.attempt("digit", lambda: reading.once(read.__name__, words, read), nothing)
    if side and hand.side and side != hand.side:
        remedy = "correct one of them"
        reading.refuse("digit", "side-conflict", f"{quoted(words)} does not fit the side {quoted(stated)}: {remedy}.")
    if not stated and not hand.side and hand.digits:
        name = "side" if "side" in reading.layout.places else "digit"
        reading.refuse(name, "side-missing", "The side is missing: write left or right.")
    return side or hand.side, hand.digits


def _digits_of_a_side(text: str) -> HandDigits:
    return read_digits(text, side_known=True)


def _read_closure(reading: Reading) -> ClosedWith:
    """From a column of classes, a column of materials, or both; a known class lets any material stand as written."""
    unknown = ClosedWith(Suture.UNKNOWN, "")
    named = reading.take("suture", read_suture, unknown)
    if named.suture is Suture.UNKNOWN:
        return reading.take("material", read_suture, unknown)
    written = reading.text("material")
    material = _known_material(written) if written else unknown
    if material.suture not in (Suture.UNKNOWN, named.suture):
        both = f"{quoted(written)} is {material.suture}, but the closure says {named.suture}"
        reading.refuse("material", "suture-conflict", f"{both}: correct one of them.")
    text = reading.take("material", lambda text: read_text(text, most=LONGEST_MATERIAL), "")
    return ClosedWith(named.suture, text or named.material)


def _known_material(text: str) -> ClosedWith:
    try:
        return read_suture(text)
    except Refusal:
        return ClosedWith(Suture.UNKNOWN, "")


def _count(text: str) -> int | None:
    return None if text.strip() == "?" else read_count(text, most=MOST_STITCHES)


def _compare(reading: Reading, technique: Technique, suture: Suture, stitches: int | None, digits: int) -> None:
    if suture is Suture.NONE and stitches:
        why = f"There are {stitches} stitches, but the closure says none"
        reading.refuse("stitches_in", "stitches-without-suture", f"{why}: correct one of them.")
    if suture is Suture.NON_ABSORBABLE and stitches == 0:
        why = "There are 0 stitches, but the closure says non-absorbable"
        reading.refuse("stitches_in", "suture-without-stitches", f"{why}: correct one, or leave the count empty.")
    if technique is Technique.PERCUTANEOUS and suture is Suture.NON_ABSORBABLE:
        why = "A percutaneous release is seldom stitched"
        reading.doubt("technique", "stitched-percutaneous", f"{why}: confirm technique and suture.")
    if digits > 1 and stitches:
        why = f"{stitches} stitches are taken to be in each of the {digits} digits"
        reading.doubt("stitches_in", "stitches-shared", f"{why}: confirm it, or give one row for each digit.")
