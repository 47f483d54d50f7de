"""The patient's day line: a ruler in weeks from the operation, with today, the visits booked and those to be booked.

Places are per cent of the width, so that it fills paper and telephone alike while its words keep their size.
"""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.timetable.plan import FollowUp

WEEK = 7
SHORTEST, LONGEST = 8 * WEEK, 26 * WEEK
MOST_LABELS = 7


class Bar(NamedTuple):
    """The window of a visit that is still to be booked; `maybe` says that it may change."""

    x: str
    width: str
    maybe: bool


class Week(NamedTuple):
    x: str
    said: str


class Days(NamedTuple):
    """`anchor` is how the word “today” stands to its mark, as SVG names it: start, middle or end."""

    today: str
    anchor: str
    booked: tuple[str, ...]
    to_book: tuple[Bar, ...]
    weeks: tuple[Week, ...]
    said: str


def days_of(surgery_on: date | None, today: date, booked: Iterable[date], to_book: Iterable[FollowUp]) -> Days | None:
    """The line; none before the operation, nor where its day is not known."""
    if surgery_on is None or surgery_on > today:
        return None
    visits = [(on - surgery_on).days for on in booked]
    windows = [((row.earliest_on - surgery_on).days, (row.latest_on - surgery_on).days, row) for row in to_book]
    now = (today - surgery_on).days
    last = max([SHORTEST, now, *visits, *(latest for _first, latest, _row in windows)])
    end = min(LONGEST, -(-last // (2 * WEEK)) * 2 * WEEK)
    bars = (_bar(first, min(latest, end), end, row) for first, latest, row in windows if first <= end)
    return Days(
        today=_at(min(now, end), end),
        anchor="start" if now < end / 10 else "end" if now > end * 0.9 else "middle",
        booked=tuple(_at(day, end) for day in visits if day <= end),
        to_book=tuple(bars),
        weeks=tuple(_weeks(end)),
        said=_("Line of days from the operation on. Today is day %(day)d.") % {"day": now},
    )


def _bar(first: int, latest: int, end: int, row: FollowUp) -> Bar:
    return Bar(_at(first, end), f"{96 * (latest + 1 - first) / (end + 1):.2f}%", row.provisional)


def _at(day: int, end: int) -> str:
    return f"{2 + 96 * day / (end + 1):.2f}%"


def _weeks(end: int) -> Iterable[Week]:
    """Every other week with its number, or fewer where the line is long; the last one says what is counted."""
    count = end // WEEK
    step = 2 * -(-count // (2 * MOST_LABELS))
    yield Week(_at(0, end), "0")
    for week in range(step, count - step + 1, step):
        yield Week(_at(week * WEEK, end), str(week))
    yield Week(_at(end, end), ngettext("%(count)d week", "%(count)d weeks", count) % {"count": count})
