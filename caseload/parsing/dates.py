"""Typed dates, day first always.

`3/4/26` is 3 April 2026; it is marked as reading two ways, because 4 March is a real date too. A weekday typed in
front settles it. A date without a year takes the nearest of last, this and next year (on a tie the earlier). A
two-digit year takes the latest century that ends at most 20 years from now; for a birth date, the latest that is past.
"""

import re
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing.day_forms import WEEKDAYS, Written, in_words, read_form, why_impossible
from caseload.parsing.text import quoted, tidy

EARLIEST = date(1900, 1, 1)
LATEST = date(2100, 12, 31)
YEARS_AHEAD = 20
OLDEST_AGE = 120
LONGEST = 60
"""Characters: no date is longer. What is read is remembered for a while, so it must be short."""

_RELATIVE = re.compile(r"([+\-\u2212])\s?(\d{1,5})")
_WORDS = {"yesterday": -1, "today": 0, "tomorrow": 1}


class TypedDate(NamedTuple):
    """A date as read; `other_reading` is what it would be otherwise (month first, another century), if that is real."""

    on: date
    other_reading: date | None = None


class Span(NamedTuple):
    """The days that a date may lie in, and the day up to which a two-digit year may reach."""

    first: date
    last: date
    pivot: date
    birth: bool = False


def read_date(value: str | date, *, today: date) -> TypedDate:
    """A date typed into a form: also `today`, `yesterday`, `tomorrow`, `+10`, `-3`. Raises Refusal."""
    if isinstance(value, str):
        text = tidy(value).casefold()
        if text in _WORDS:
            return TypedDate(today + timedelta(days=_WORDS[text]))
        if counted := _RELATIVE.fullmatch(text):
            days = int(counted[2]) * (1 if counted[1] == "+" else -1)
            return TypedDate(_inside(today + timedelta(days=days), _span(today)))
    return read_written_date(value, today=today)


def read_written_date(value: str | date, *, today: date, month_first: bool = False) -> TypedDate:
    """A date as it stands in a list: a date cell, or text that does not lean on the day it is read.

    `month_first` only where a person has said that the list is written so. Raises Refusal.
    """
    return _read(_even(value), today, _span(today), month_first)


def read_birth_date(value: str | date, *, today: date, month_first: bool = False) -> TypedDate:
    """A birth date: in the past, at most 120 years ago, with its year. Raises Refusal.

    With a two-digit year that would fit a child and someone past 100 alike, the other is the other reading.
    """
    return _read(_even(value), today, _lifetime(today), month_first)


def refuse_born_after(born_on: date, surgery_on: date) -> None:
    """Raises Refusal `born-after-surgery`."""
    if born_on > surgery_on:
        raise Refusal(
            "born-after-surgery",
            f"The birth date {in_words(born_on)} is after the surgery on {in_words(surgery_on)}: one of them is wrong.",
        )


class Readings(NamedTuple):
    """Both readings of a numeric date; None where there is no such day. Equal for `5/5/26`."""

    day_first: date | None
    month_first: date | None


def both_readings(text: str, *, today: date) -> Readings | None:
    """How a numeric date reads day first and month first, or None if it is not numeric. Never raises."""
    try:
        written = read_form(_cut(tidy(text)))
    except Refusal:
        return None
    if not written.numeric:
        return None
    span = _span(today)
    return Readings(_day(written, span, today), _day(written.swapped(), span, today))


@lru_cache(maxsize=4)
def _lifetime(today: date) -> Span:
    return Span(_years_before(today, OLDEST_AGE), today, today, birth=True)


@lru_cache(maxsize=4)
def _span(today: date) -> Span:
    return Span(EARLIEST, LATEST, date(min(today.year + YEARS_AHEAD, LATEST.year), 12, 31))


def _years_before(day: date, years: int) -> date:
    leap_day = (day.month, day.day) == (2, 29)
    return day.replace(year=day.year - years, day=28 if leap_day else day.day)


def _even(value: str | date) -> str | date:
    if isinstance(value, str):
        return _cut(tidy(value))
    return value.date() if isinstance(value, datetime) else value


def _cut(text: str) -> str:
    """A longer text than any date is no date, and stays none."""
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}\u2026"


def _read(value: str | date, today: date, span: Span, month_first: bool) -> TypedDate:
    if isinstance(value, date):
        return TypedDate(_inside(value, span))
    written = read_form(value)
    if span.birth and not written.year:
        raise Refusal("birth-date-without-year", f"{quoted(value)} has no year: a birth date needs one.")
    stated = month_first and written.numeric
    wanted = written.swapped() if stated else written
    on = _day(wanted, span, today)
    if on is None:
        raise _no_such_day(value, wanted, span, today)
    return TypedDate(_inside(on, span), None if stated else _other(written, on, span, today))


def _other(written: Written, on: date, span: Span, today: date) -> date | None:
    other = _day(written.swapped(), span, today) if written.numeric else None
    if other in (None, on) and span.birth and len(written.year) == 2:
        other = _real(on.year - 100, on.month, on.day)
    return other if other and other != on and span.first <= other <= span.last else None


def _day(written: Written, span: Span, today: date) -> date | None:
    """The day that a form means, or None if there is none or its weekday speaks against it."""
    on = _real_day(written, span, today)
    return None if on is None or written.weekday not in (None, on.weekday()) else on


def _real_day(written: Written, span: Span, today: date) -> date | None:
    if len(written.year) == 4:
        return _real(int(written.year), written.month, written.day)
    if written.year:
        latest = span.pivot.year - (span.pivot.year - int(written.year)) % 100
        both = (_real(year, written.month, written.day) for year in (latest, latest - 100))
        return next((day for day in both if day and day <= span.pivot), None)
    near = (_real(today.year + n, written.month, written.day) for n in (-1, 0, 1))
    return min((day for day in near if day), key=lambda day: abs(day - today), default=None)


def _real(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _inside(on: date, span: Span) -> date:
    if span.first <= on <= span.last:
        return on
    if not span.birth:
        limits = f"{span.first.year} to {span.last.year}"
        raise Refusal("date-out-of-range", f"The year {on.year} cannot be right: give one from {limits}.")
    if on > span.last:
        raise Refusal("birth-date-ahead", f"The birth date {in_words(on)} has not come yet: give the right year.")
    raise Refusal("birth-date-too-old", f"Born {in_words(on)} would be over {OLDEST_AGE}: give the right year.")


def _no_such_day(text: str, wanted: Written, span: Span, today: date) -> Refusal:
    on = _real_day(wanted, span, today)
    other = _day(wanted.swapped(), span, today) if wanted.numeric else None
    why = f"{in_words(on)[4:]} is a {WEEKDAYS[on.weekday()]}" if on else why_impossible(wanted)
    if other:
        remedy = f"If {in_words(other)} is meant, type {in_words(other)[4:]}"
        return Refusal("date-other-order", f"{quoted(text)}: {why}. {remedy}.", other_reading=other)
    if on:
        return Refusal("date-wrong-weekday", f"{quoted(text)}: {why}. Correct the weekday or the date.")
    return Refusal("date-impossible", f"{quoted(text)}: {why}. Correct the day, month or year.")
