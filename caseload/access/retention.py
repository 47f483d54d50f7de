"""How long a record is kept, and when its time is over.

The record of an adult is kept for eight years after the last contact, that of a child until the 25th birthday, or the
26th where they were 17 at the end; never less than an adult's. While anything is open it is kept whatever its age, and
so it is while a lead keeps it for a reason. Where the birth date is not known, it is kept as a newborn's would be.

Source: NHS England, Records Management Code of Practice, retention schedule (from memory). Local policy decides: the
years after the last contact are a setting, and people start every removal.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final, NamedTuple

ADULT_AT: Final = 18
CHILD_UNTIL: Final = 25
CHILD_OF_17_UNTIL: Final = 26


class Why(StrEnum):
    """Why a record is kept until its last day, or without one."""

    OPEN = "open"
    KEPT = "kept"
    UNDATED = "undated"
    ADULT = "adult"
    CHILD = "child"
    BIRTH_UNKNOWN = "birth-unknown"


@dataclass(frozen=True, slots=True)
class Record:
    """What decides: the last day on which there was anything to do with the person, None where none is on record;
    whether something is open or to come; and whether a lead keeps it, until when (None: until that is taken back).
    """

    last_on: date | None
    born_on: date | None = None
    open: bool = False
    kept: bool = False
    kept_until_on: date | None = None


class Time(NamedTuple):
    """`until` is the last day on which it is kept, None where none can be told."""

    why: Why
    until: date | None

    def over(self, today: date) -> bool:
        return self.until is not None and self.until < today


def time_of(record: Record, years: int) -> Time:
    """`years` are those after the last contact."""
    if record.open:
        return Time(Why.OPEN, None)
    if record.last_on is None:
        return Time(Why.UNDATED, None)
    if record.kept and record.kept_until_on is None:
        return Time(Why.KEPT, None)
    time = _by_age(record.last_on, record.born_on, years)
    kept = record.kept_until_on if record.kept else None
    return Time(Why.KEPT, kept) if kept and time.until and kept > time.until else time


def _by_age(last_on: date, born_on: date | None, years: int) -> Time:
    usual = after(last_on, years)
    if born_on is None:
        return Time(Why.BIRTH_UNKNOWN, max(usual, after(last_on, CHILD_UNTIL)))
    if last_on >= after(born_on, ADULT_AT):
        return Time(Why.ADULT, usual)
    was_17 = last_on >= after(born_on, ADULT_AT - 1)
    return Time(Why.CHILD, max(usual, after(born_on, CHILD_OF_17_UNTIL if was_17 else CHILD_UNTIL)))


def after(day: date, years: int) -> date:
    """So many years later; what began on a 29 February has its day on 1 March in other years. No day lies beyond what
    a calendar holds."""
    year = min(day.year + years, date.max.year)
    try:
        return day.replace(year=year)
    except ValueError:
        return date(year, 3, 1)
