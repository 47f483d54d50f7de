"""Measured numbers: with a comma or a point, with or without their unit."""

import re

from caseload.errors import Refusal
from caseload.parsing.text import quoted, tidy

_NUMBER = re.compile(r"([-+]?)(\d{1,4})(?:[.,](\d{1,2}))?\s?(?:°|kg|cm)?", re.ASCII | re.IGNORECASE)
_MINUS = str.maketrans("\u2212\u2013", "--")


def read_decimal(text: str) -> float:
    """`24,5`, `24.5 kg`, with at most two places. Raises Refusal `number-unreadable`."""
    found = _NUMBER.fullmatch(tidy(text).translate(_MINUS))
    if not found:
        raise Refusal("number-unreadable", f"{quoted(text)} is not a number: write it like 24 or 24.5.")
    sign, whole, places = found.groups()
    return float(f"{sign}{whole}.{places or 0}")


def read_whole(text: str) -> int:
    """`85`, `-5`, `85°`. Raises Refusal `number-unreadable`, `number-not-whole`."""
    number = read_decimal(text)
    if not number.is_integer():
        raise Refusal("number-not-whole", f"{quoted(text)} is not a whole number: round it, as in 85.")
    return int(number)
