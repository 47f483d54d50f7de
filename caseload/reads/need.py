"""What falls due in the weeks ahead and what is free for it, as `booking.room` counts it, in seven queries.

Decided here:
- Known is every due visit whose window opens by the end. Of a patient's visits that one appointment can serve, they are
  counted as one, as they would be booked. Booked is what stands inside its window; all else counts as unbooked.
- Free is every slot of a session in person that is neither taken nor held back.
- Expected are the first visits (stitches out, wound check) of operations to come, from those of the last twelve whole
  weeks at the site, less those that are planned already; several digits operated on one day are one operation.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import groupby
from operator import attrgetter
from typing import Any, Final, NamedTuple

from django.db.models import CharField
from django.db.models.functions import Cast

from caseload.booking.expected import Pattern, predicted, visits_expected
from caseload.booking.needs import minutes_for, visits_of
from caseload.booking.outlook import Outlook, Surgery, days_ahead, days_between
from caseload.booking.room import Room, Visit, alike, from_today
from caseload.booking.slots import SLOT
from caseload.models import Episode, FollowUp, Session, Site, Slot
from caseload.reads.calendars import calendars_of
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import Ending, FollowUpKind, Way

BEHIND: Final = 12
"""Whole weeks from which the rate of surgery is taken."""
FIRST_VISITS: Final = (FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK)
USUAL: Final = 9
"""Slots of a session, where none is held to go by: three hours."""


def _text(name: str) -> Cast:
    """As the database writes it: of a hundred thousand rows only those that differ are made into values."""
    return Cast(name, CharField())


YES: Final = ("1", "true")
"""How either database writes it."""
DUE: Final = (
    "episode__site_id", "kind", _text("earliest_on"), _text("latest_on"), "minutes", _text("provisional"),
    _text("booked_on"), _text("patient__interpreter"),
)  # fmt: skip


class Due(NamedTuple):
    """A due follow-up as it is read. Nothing in it tells patients apart: those to whom the same is due are counted."""

    site: int
    kind: FollowUpKind
    earliest: date
    latest: date
    minutes: int
    provisional: bool
    booked_on: date | None
    interpreter: bool


class Held(NamedTuple):
    """A session in person, with the slots it has and what is free of them."""

    slots: int
    room: Room


Owed = tuple[Due, ...]
"""What is due to one patient, in order of last days."""
Read = tuple[Any, ...]


class Known(NamedTuple):
    """What is booked well, on its day, and what is not, joined as one visit would serve it; alike ones together."""

    booked: tuple[Visit, ...]
    unbooked: tuple[Visit, ...]


def outlooks(today: date) -> dict[int, Outlook]:
    """The weeks ahead of each site, by its key."""
    sites = list(Site.objects.select_related("region"))
    first, last = days = days_ahead(today)
    known, patterns, planned = _known(_due(last), first), _patterns(today), _planned(first, last)
    held = _held(first, last)
    return {
        site: _outlook(site, calendar, days, known[site], held[site], patterns[site], planned[site])
        for site, calendar in calendars_of(sites).items()
    }


def _outlook(
    site: int,
    calendar: OpenDays,
    ahead: tuple[date, date],
    known: Known,
    held: Sequence[Held],
    patterns: Sequence[Pattern],
    planned: int,
) -> Outlook:
    days = days_between(*ahead)
    weeks, behind = len(days) / 7, sum(pattern.number for pattern in patterns)
    number = predicted(behind, BEHIND, weeks)
    mean, upper = (_scale(behind / BEHIND * weeks, planned, each) for each in (number.mean, number.upper))
    lengths = sorted(session.slots for session in held)
    return Outlook(
        site=site,
        calendar=calendar,
        first=days[0],
        last=days[-1],
        booked=known.booked,
        unbooked=known.unbooked,
        expected=visits_expected(patterns, BEHIND, days, scale=mean),
        expected_most=visits_expected(patterns, BEHIND, days, scale=upper),
        rooms=tuple(session.room for session in held),
        surgery=Surgery(behind, planned, number),
        usual=lengths[len(lengths) // 2] if lengths else USUAL,
    )


def _scale(at_this_rate: float, planned: int, ahead: float) -> float:
    """By how much the rate behind is to be taken, so that it gives the number ahead without those planned already."""
    return max(0.0, ahead - planned) / at_this_rate if at_this_rate else 0.0


def _due(last: date) -> Counter[Owed]:
    """To how many patients the same is due."""
    rows = FollowUp.objects.due().filter(minutes__gt=0, earliest_on__lte=last, episode__ended_on__isnull=True)
    found = rows.order_by("pk").values_list("patient_id", *DUE)
    counted: Counter[Owed] = Counter()
    for (_, owed), number in _alike(found, 1).items():
        counted[owed] += number
    return counted


def _alike(rows: Iterable[Read], width: int) -> Counter[tuple[Read, Owed]]:
    """The first columns tell whose each row is, the others what is due: those to whom the same is due are counted, told
    apart by what follows the first column."""
    sorts: dict[Read, int] = {}
    own: dict[Read, tuple[int, ...]] = {}
    for row in rows:
        whose, what = row[:width], row[width:]
        own[whose] = (*own.get(whose, ()), sorts.setdefault(what, len(sorts)))
    known, counted = [_as_due(row) for row in sorts], Counter[tuple[Read, Owed]]()
    for (apart, numbers), count in Counter((whose[1:], numbers) for whose, numbers in own.items()).items():
        counted[apart, tuple(sorted((known[number] for number in numbers), key=attrgetter("latest")))] += count
    return counted


def _as_due(row: Read) -> Due:
    site, kind, earliest, latest, minutes, provisional, booked_on, interpreter = row
    day = date.fromisoformat
    booked, kind = day(booked_on) if booked_on else None, FollowUpKind(kind)
    return Due(site, kind, day(earliest), day(latest), minutes, provisional in YES, booked, interpreter in YES)


def _held(first: date, last: date) -> dict[int, list[Held]]:
    """By site; a session that is full is there too, with nothing free."""
    stretches = _stretches(first, last)
    found: dict[int, list[Held]] = defaultdict(list)
    for row in Session.objects.filter(live=True, on__gte=first, on__lte=last).order_by("on", "start_minute", "pk"):
        if Way.IN_PERSON in row.by_way:
            free = tuple(stretches[row.pk])
            room = Room(row.on, row.site_id, row.kinds, sum(free), free)
            found[row.site_id].append(Held((row.end_minute - row.start_minute) // SLOT, room))
    return found


def _stretches(first: date, last: date) -> dict[int, list[int]]:
    """By session the lengths of its runs of free slots, in one query."""
    sessions = Session.objects.filter(live=True, on__gte=first, on__lte=last).order_by()
    free = Slot.objects.filter(session__in=sessions.values("pk"), live=True, held_why="", seat__isnull=True)
    found: dict[int, list[int]] = defaultdict(list)
    before = (0, 0)
    for session, minute in free.order_by("session_id", "minute").values_list("session_id", "minute"):
        if before == (session, minute - SLOT):
            found[session][-1] += 1
        else:
            found[session].append(1)
        before = (session, minute)
    return found


def _known(due: Counter[Owed], first: date) -> dict[int, Known]:
    """By site; what one patient has to be seen for at two sites is no one visit."""
    booked: dict[int, list[Visit]] = defaultdict(list)
    unbooked: dict[int, list[Visit]] = defaultdict(list)
    for rows, number in due.items():
        for site, own in groupby(sorted(rows, key=attrgetter("site")), key=attrgetter("site")):
            held, left = _held_and_left(own)
            booked[site] += (_visit(together, on, on, number) for on, together in held.items() if on >= first)
            unbooked[site] += (from_today(visit, first) for visit in _joined(left, number))
    sites = booked.keys() | unbooked.keys()
    found = {site: Known(tuple(alike(booked[site])), tuple(alike(unbooked[site]))) for site in sites}
    return defaultdict(lambda: Known((), ()), found)


def _held_and_left(rows: Iterable[Due]) -> tuple[dict[date, list[Due]], list[Due]]:
    """Booked inside the window, by day; and the rest."""
    held: dict[date, list[Due]] = defaultdict(list)
    left = []
    for row in rows:
        if row.booked_on and (row.provisional or row.earliest <= row.booked_on <= row.latest):
            held[row.booked_on].append(row)
        else:
            left.append(row)
    return held, left


def _joined(rows: Iterable[Due], number: int) -> Iterator[Visit]:
    for together in visits_of(rows, lambda row: (row.earliest, row.latest, row.minutes)):
        yield _visit(together, max(each.earliest for each in together), together[0].latest, number)


def _visit(rows: Sequence[Due], first: date, last: date, number: int) -> Visit:
    minutes = minutes_for((row.minutes for row in rows), rows[0].interpreter)
    kinds = frozenset(row.kind for row in rows)
    return Visit(kinds, first, last, -(-minutes // SLOT), rows[0].site, number)


def _patterns(today: date) -> dict[int, list[Pattern]]:
    """The first visits that operations of the weeks behind were due, by weekday and days after surgery."""
    counted: Counter[tuple[int, Pattern]] = Counter()
    for (surgery_on, rows), number in _first_visits(today).items():
        for visit in _joined(rows, number):
            days = ((visit.first - surgery_on).days, (visit.last - surgery_on).days)
            pattern = Pattern(surgery_on.weekday(), visit.kinds, *days, visit.slots, visit.site, 0)
            counted[visit.site, pattern] += number
    found: dict[int, list[Pattern]] = defaultdict(list)
    for (site, pattern), number in counted.items():
        found[site].append(pattern._replace(number=number))
    return found


def _first_visits(today: date) -> Counter[tuple[date, Owed]]:
    """How many patients were due the same after an operation on the same day."""
    monday = today - timedelta(days=today.weekday())
    rows = FollowUp.objects.filter(
        kind__in=FIRST_VISITS, minutes__gt=0, key__in=FIRST_VISITS,
        episode__surgery_on__gte=monday - timedelta(weeks=BEHIND), episode__surgery_on__lt=monday,
    ).exclude(episode__ended_how=Ending.NOT_DONE)  # fmt: skip
    found = rows.order_by("pk").values_list("patient_id", _text("anchor_on"), *DUE)
    counted = _alike(found, 2)
    return Counter({(date.fromisoformat(on), owed): number for ((on,), owed), number in counted.items()})


def _planned(first: date, last: date) -> Counter[int]:
    """Two digits on one day are one operation."""
    rows = Episode.objects.filter(ended_on__isnull=True, surgery_on__gte=first, surgery_on__lte=last).order_by()
    return Counter(site for site, _, _ in rows.values_list("site_id", "patient_id", _text("surgery_on")).distinct())
