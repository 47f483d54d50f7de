"""The forms in which a day is written, taken apart without asking whether there is such a day."""

import re
from calendar import isleap, monthrange
from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing.text import quoted

MONTHS = ("January", "February", "March", "April", "May", "June", "July",
          "August", "September", "October", "November", "December")  # fmt: skip
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

_MONTH = {name.casefold()[:n]: i for i, name in enumerate(MONTHS, 1) for n in (3, len(name))} | {"sept": 9}
_WEEKDAY = {name.casefold()[:n]: i for i, name in enumerate(WEEKDAYS) for n in (3, len(name))}
_WEEKDAY |= {"tues": 1, "weds": 2, "thur": 3, "thurs": 3}

_IN_FRONT = re.compile(r"([a-z]+)[.,]? (?=\d)")
_TIME = re.compile(r"[ t]\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?(?: ?[ap]m)?$")
_NUMERIC = re.compile(r"(\d{1,2}) ?([/.\-]) ?(\d{1,2})(?: ?\2 ?(\d{4}|\d{2}))?\.?")
_SPACED = re.compile(r"(\d{1,2})( )(\d{1,2}) (\d{4}|\d{2})")
_RUN = re.compile(r"(\d{2})()(\d{2})((?:19|20)\d{2})")
_ISO = re.compile(r"(\d{4})([/.\-])(\d{1,2})\2(\d{1,2})")
_ISO_RUN = re.compile(r"((?:19|20)\d{2})()(0[1-9]|1[0-2])(\d{2})")
_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ ./\-]*(?:of )?([a-z]+)[.,]?(?:[ ./\-]*'?(\d{4}|\d{2}))?")
_NAMED_FIRST = re.compile(r"([a-z]+)[. ] ?(\d{1,2})(?:st|nd|rd|th)?,? (\d{4})")
_SERIAL = re.compile(r"[2-7]\d{4}(?:\.\d+)?")
_SERIAL_START = date(1899, 12, 30)


class Written(NamedTuple):
    """`year` is four digits, two digits or empty; `numeric`: the day and the month could be meant the other way."""

    day: int
    month: int
    year: str
    numeric: bool = False
    weekday: int | None = None

    def swapped(self) -> "Written":
        return self._replace(day=self.month, month=self.day)


def in_words(on: date) -> str:
    """`Fri 3 Apr 2026`, in every locale."""
    return f"{WEEKDAYS[on.weekday()][:3]} {on.day} {MONTHS[on.month - 1][:3]} {on.year}"


@lru_cache(maxsize=16384)
def read_form(text: str) -> Written:
    """Take a tidied text apart. Raises Refusal `date-missing`, `date-serial`, `date-unreadable`."""
    rest = _TIME.sub("", text.casefold())
    weekday = None
    if (front := _IN_FRONT.match(rest)) and front[1] in _WEEKDAY:
        weekday, rest = _WEEKDAY[front[1]], rest[front.end() :]
    written = _read_numbers(rest) or _read_named(rest)
    if written is None:
        raise _unreadable(text)
    return written._replace(weekday=weekday)


def _read_numbers(text: str) -> Written | None:
    if found := _ISO.fullmatch(text) or _ISO_RUN.fullmatch(text):
        return Written(int(found[4]), int(found[3]), found[1])
    if found := _NUMERIC.fullmatch(text) or _SPACED.fullmatch(text) or _RUN.fullmatch(text):
        return Written(int(found[1]), int(found[3]), found[4] or "", numeric=True)
    return None


def _read_named(text: str) -> Written | None:
    if (found := _NAMED.fullmatch(text)) and found[2] in _MONTH:
        return Written(int(found[1]), _MONTH[found[2]], found[3] or "")
    if (found := _NAMED_FIRST.fullmatch(text)) and found[1] in _MONTH:
        return Written(int(found[2]), _MONTH[found[1]], found[3])
    return None


def _unreadable(text: str) -> Refusal:
    if not text:
        return Refusal("date-missing", "A date is missing: type it day first, such as 3/4/2026 or 3 Apr 2026.")
    if _SERIAL.fullmatch(text):
        day = in_words(_SERIAL_START + timedelta(days=int(float(text))))
        meant = f"a spreadsheet's day number for {day}: type it as {day[4:]}, or format the column as a date"
        return Refusal("date-serial", f"{quoted(text)} looks like {meant}.")
    return Refusal(
        "date-unreadable",
        f"{quoted(text)} is not a date that can be read: type the day first, such as 3/4/2026 or 3 Apr 2026.",
    )


def why_impossible(written: Written) -> str:
    """Why there is no such day, as half a sentence."""
    day, month = written.day, written.month
    if not 1 <= month <= 12:
        return f"there is no month {month}"
    name = MONTHS[month - 1]
    if (month, day) == (2, 29) and not written.year:
        return "there is no 29 February in last, this or next year"
    year = int(written.year[-2:] or 0) + 2000 if len(written.year) < 4 else int(written.year)
    if year == 0:
        return "there is no year 0"
    if (month, day) == (2, 29):
        return f"{year} is not a leap year, so February has 28 days"
    days = 29 if month == 2 and (isleap(year) or not written.year) else monthrange(year, month)[1]
    return f"{name} has {days} days" if day else "there is no day 0"
