"""Times of day as people type them."""

import re

from caseload.errors import Refusal
from caseload.parsing.text import quoted, tidy

_TIME = re.compile(r"([0-9]{1,2})(?:[:.h ]?([0-9]{2}))?")
MINUTES_OF_A_DAY = 24 * 60


def read_time(text: str) -> int:
    """`9`, `9:00`, `09.00`, `0900`: the minute of the day; 24:00 is the end of it. Raises Refusal `time-unreadable`."""
    found = _TIME.fullmatch(tidy(text))
    minute = int(found[1]) * 60 + int(found[2] or 0) if found else MINUTES_OF_A_DAY + 1
    if found is None or minute > MINUTES_OF_A_DAY or int(found[2] or 0) >= 60:
        raise Refusal("time-unreadable", f"{quoted(text)} is no time of day: type it like 9:00 or 13:20.")
    return minute
