"""What a patient is written or rung about an appointment: which news, by which channel, from when, until when.

Decides: a booked, moved or cancelled appointment of which the patient does not know yet is news; a booked one is
reminded of seven and two open days before (the two distances are settings of the service).
Assumes: a patient is written to by e-mail only with consent and an address, and nobody who needs an interpreter is
written to at all: they are rung. News that no channel can carry is rung from the list of those to be told.
Nothing depends on the present: what is wanted follows from the appointment alone, so that nothing is made twice.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final

from caseload.booking.clock import instant_of, local_of
from caseload.timetable.calendar import OpenDays


class NoticeKind(StrEnum):
    BOOKED = "booked"
    MOVED = "moved"
    CANCELLED = "cancelled"
    WEEK_BEFORE = "week-before"
    DAYS_BEFORE = "days-before"
    REFERRER = "referrer"


class Channel(StrEnum):
    EMAIL = "email"
    LETTER = "letter"
    CALL = "call"


REMINDERS: Final = {NoticeKind.WEEK_BEFORE: 7, NoticeKind.DAYS_BEFORE: 2}
"""Open days before the appointment."""
REMINDED_AT: Final = 9 * 60
"""Minute of the local day."""
FIRST_MINUTE: Final = 8 * 60
LAST_MINUTE: Final = 19 * 60
"""Site-local hours in which news goes out."""
GRACE: Final = timedelta(minutes=11)
"""News waits a minute longer than what made it can be taken back."""
POST_DAYS: Final = 3
"""Open days that a letter takes."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How a patient can be reached in writing; `interpreter` says that they have to be rung."""

    email: bool
    letter: bool
    interpreter: bool


@dataclass(frozen=True, slots=True)
class Booked:
    """An appointment as its notices see it. `to_come` says that it is live and has no outcome; `moved` that it was
    elsewhere before; `changed_at` is when it was booked, moved or ended."""

    on: date
    minute: int
    zone: str
    to_come: bool
    cancelled: bool
    untold: bool
    moved: bool
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class Wanted:
    """A notice that should be there: sent from `due_at`, pointless from `until_at` on."""

    kind: NoticeKind
    channel: Channel
    due_at: datetime
    until_at: datetime


def wanted(booked: Booked, reach: Reach, calendar: OpenDays) -> tuple[Wanted, ...]:
    """Every notice of an appointment, news first."""
    starts_at = instant_of(booked.on, booked.minute, booked.zone)
    found = [*_news(booked, reach, calendar, starts_at)]
    if booked.to_come:
        found += _reminders(booked, reach, calendar, starts_at)
    return tuple(found)


def _news(booked: Booked, reach: Reach, calendar: OpenDays, starts_at: datetime) -> Iterator[Wanted]:
    if not booked.untold or not (booked.to_come or booked.cancelled):
        return
    due_at = in_hours(booked.changed_at + GRACE, booked.zone)
    channel = _writing(booked, reach, calendar, due_at)
    if channel and due_at < starts_at:
        kind = NoticeKind.CANCELLED if booked.cancelled else NoticeKind.MOVED if booked.moved else NoticeKind.BOOKED
        yield Wanted(kind, channel, due_at, starts_at)


def _writing(booked: Booked, reach: Reach, calendar: OpenDays, due_at: datetime) -> Channel | None:
    if reach.interpreter:
        return None
    if reach.email:
        return Channel.EMAIL
    in_time = arrives_before(booked.on, local_of(due_at, booked.zone)[0], calendar)
    return Channel.LETTER if reach.letter and in_time else None


def arrives_before(on: date, posted_on: date, calendar: OpenDays) -> bool:
    """Whether a letter posted on a day is there in time for an appointment."""
    before = calendar.last_open_days(on, POST_DAYS)
    return len(before) == POST_DAYS and posted_on < before[-1]


def _reminders(booked: Booked, reach: Reach, calendar: OpenDays, starts_at: datetime) -> Iterator[Wanted]:
    """The later one ends the earlier; one whose hour had passed when the appointment was made is not wanted."""
    until_at, found = starts_at, []
    channel = Channel.EMAIL if reach.email and not reach.interpreter else Channel.CALL
    for kind, days in sorted(REMINDERS.items(), key=lambda item: item[1]):
        before = calendar.last_open_days(booked.on, days)
        if len(before) == days:
            due_at = instant_of(before[-1], REMINDED_AT, booked.zone)
            if due_at > booked.changed_at:
                found.append(Wanted(kind, channel, due_at, until_at))
            until_at = due_at
    yield from reversed(found)


def in_hours(at: datetime, zone: str) -> datetime:
    """The first instant from `at` on that lies in the hours in which news goes out."""
    on, minute = local_of(at, zone)
    if minute < FIRST_MINUTE:
        return instant_of(on, FIRST_MINUTE, zone)
    return at if minute < LAST_MINUTE else instant_of(on + timedelta(days=1), FIRST_MINUTE, zone)
