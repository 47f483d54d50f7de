"""Dated sessions, made from the weekly ones for a rolling horizon. Safe to repeat, and by two processes at once."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any, Final, NamedTuple

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.actions.resettle import resettle
from caseload.actions.sessions import slots_of
from caseload.booking.slots import STEP
from caseload.booking.weeks import dates_of, minutes_of
from caseload.errors import Refusal
from caseload.models import Absence, Session, Slot, WeeklySession
from caseload.reads.calendars import every_calendar
from caseload.reads.weeks import pattern_of
from caseload.wording.dates import say_date

HORIZON: Final = timedelta(weeks=26)
"""Sessions are dated so far ahead."""
Boxes = set[tuple[int, date, int]]
"""Ten minutes of a therapist's day: therapist, day, first minute."""


class Made(NamedTuple):
    """The sessions made, and what was not made with the reason, in sentences."""

    sessions: tuple[Session, ...]
    left_out: tuple[str, ...]


@act(Act.SESSIONS_MAKE)
def make_sessions(*, by: By, until: date | None = None) -> Made:
    """Every dated session up to a day that is not there yet (None: for the whole horizon)."""
    last = until or by.today + HORIZON
    rows = WeeklySession.objects.select_for_update(of=("self",)).filter(_held_in(by.today, last)).order_by("pk")
    made = make(rows.select_related("site", "therapist"), first=by.today, last=last)
    counts: dict[WeeklySession, int] = defaultdict(int)
    for session in made.sessions:
        assert session.weekly is not None
        counts[session.weekly] += 1
    for weekly, count in counts.items():
        trail(Act.SESSIONS_MAKE, weekly, by=by, patient_id=None, changed={"sessions": (None, count)})
    if made.sessions:
        days = [session.on for session in made.sessions]
        resettle({session.site_id for session in made.sessions}, min(days), max(days))
    return made


def make_nightly(now: datetime) -> None:
    make_sessions(by=By(None, now, timezone.localdate(now), origin="background"))


def make(weeks: Iterable[WeeklySession], *, first: date, last: date) -> Made:
    """Store the sessions of some weeks that are missing from `first` to `last`: on open days, held by the cover where
    the therapist is away, and not at all where that is nobody or they are elsewhere. Weeks bring their site.
    """
    weeks = list(weeks)
    try:
        with transaction.atomic():
            return _made(weeks, first, last)
    except IntegrityError:
        # Somebody added a session in between: this time it is seen.
        return _made(weeks, first, last)


def _made(weeks: list[WeeklySession], first: date, last: date) -> Made:
    calendars = every_calendar()
    there = set(Session.objects.filter(weekly__in=weeks, on__gte=first).values_list("weekly", "on"))
    missing = [
        (week, on)
        for week in weeks
        for on in dates_of(pattern_of(week), first, last, calendars[week.site_id])
        if (week.pk, on) not in there
    ]
    taken, away = _taken(first, last), _away(first, last)
    made: list[tuple[Session, tuple[int, ...]]] = []
    left_out = []
    for week, on in missing:
        try:
            made.append(_one(week, on, away, taken))
        except Refusal as refusal:
            left_out.append(refusal.message)
    sessions = Session.objects.bulk_create([session for session, _ in made])
    Slot.objects.bulk_create([slot for session, minutes in made for slot in slots_of(session, minutes)])
    return Made(tuple(sessions), tuple(left_out))


def lock_weeks(**which: Any) -> None:
    """Wait for whoever dates these weeks just now; they come before sessions in the one order in which acts lock."""
    list(WeeklySession.objects.select_for_update().filter(**which).order_by("pk").values_list("pk"))


def _held_in(first: date, last: date) -> Q:
    return Q(starts_on__lte=last) & (Q(ends_on__isnull=True) | Q(ends_on__gte=first))


def _taken(first: date, last: date) -> Boxes:
    rows = Slot.objects.filter(live=True, on__gte=first, on__lte=last).values_list("therapist", "on", "minute")
    return {box for therapist, on, minute in rows for box in _boxes(therapist, on, minute)}


def _boxes(therapist: int, on: date, minute: int) -> Boxes:
    return {(therapist, on, minute), (therapist, on, minute + STEP)}


def _away(first: date, last: date) -> list[Absence]:
    return list(Absence.objects.filter(starts_on__lte=last, ends_on__gte=first).select_related("cover"))


def _one(week: WeeklySession, on: date, away: list[Absence], taken: Boxes) -> tuple[Session, tuple[int, ...]]:
    """One dated session with its minutes. Raises Refusal with the sentence why it cannot be."""
    said = f"{week.site}, {week.therapist}, {say_date(on)}"
    therapist = _present(week.therapist_id, on, away, said)
    minutes = _minutes(week, on, said)
    wanted = {box for minute in minutes for box in _boxes(therapist, on, minute)}
    if wanted & taken:
        raise Refusal("two-places", f"{said}: not made, for the therapist holds another session at that time.")
    taken |= wanted
    session = Session(
        weekly=week, therapist_id=therapist, site=week.site, on=on, start_minute=week.start_minute,
        end_minute=week.end_minute, takes=week.takes, ways=week.ways, changed=therapist != week.therapist_id,
    )  # fmt: skip
    return session, minutes


def _minutes(week: WeeklySession, on: date, said: str) -> tuple[int, ...]:
    try:
        return minutes_of(week.start_minute, week.end_minute, on, week.site.zone)
    except Refusal as refusal:
        raise Refusal(refusal.code, f"{said}: not made. {refusal.message}") from None


def _present(therapist: int, on: date, away: list[Absence], said: str) -> int:
    """Who holds a session: the therapist, or who covers for them."""
    absent = {row.therapist_id: row for row in away if row.starts_on <= on <= row.ends_on}
    if therapist not in absent:
        return therapist
    cover = absent[therapist].cover_id
    if cover is None or cover in absent:
        raise Refusal("therapist-away", f"{said}: not made, for the therapist is away and nobody covers.")
    return cover
