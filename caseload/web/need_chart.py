"""Need against room as a chart: one bar for each day, in slots, with what stays free above what is taken.

The same numbers stand in the table of days. A day at which somebody finds no place has a triangle below it.
"""

from collections.abc import Sequence
from datetime import date
from html import escape
from typing import Final

from django.utils.safestring import SafeString, mark_safe

from caseload.booking.outlook import Day, Outlook
from caseload.wording.speech import speech

HEAD: Final = 18
FOOT: Final = 130
HIGH: Final = 168
LEFT: Final = 4.0
"""Per cent of the width that the scale takes."""
PARTS: Final = ("booked", "unbooked", "expected", "free")


def need_chart(outlook: Outlook) -> SafeString:
    """ "" where there is neither need nor room."""
    days = [day for week in outlook.weeks for day in week.days]
    top = max((_height(day) for day in days), default=0)
    if not top:
        return mark_safe("")
    wide = (100 - LEFT) / len(days)
    parts = [
        f'<svg class="long need" width="100%" height="{HIGH}" role="img" aria-label="{escape(_tell(outlook))}">',
        _scale(top),
        *(_bar(day, LEFT + place * wide, wide, top) for place, day in enumerate(days)),
        *_weeks(days, wide),
        *_shortages(outlook, days, wide),
        "</svg>",
    ]
    return mark_safe("".join(parts))


def _height(day: Day) -> int:
    return day.booked + day.unbooked + day.expected + day.free


def _scale(top: int) -> str:
    return "".join(
        f'<line class="axis" x1="{LEFT:g}%" x2="100%" y1="{y}" y2="{y}"/>'
        f'<text class="soft" x="{LEFT - 0.6:g}%" y="{y}" dy="4" text-anchor="end">{value}</text>'
        for value, y in ((0, FOOT), (top, HEAD))
    )


def _bar(day: Day, x: float, wide: float, top: int) -> str:
    drawn, y = [], float(FOOT)
    for part in PARTS:
        high = getattr(day, part) / top * (FOOT - HEAD)
        if high:
            y -= high
            place = f'x="{x + wide * 0.1:.2f}%" y="{y:.1f}" width="{wide * 0.8:.2f}%" height="{high:.1f}"'
            drawn.append(f'<rect class="{part}" {place}/>')
    return "".join(drawn)


def _weeks(days: Sequence[Day], wide: float) -> list[str]:
    """A tick and the date at each Monday; on a narrow page every second date is left out."""
    mondays = [place for place, day in enumerate(days) if day.on.weekday() == 0]
    marks = []
    for number, place in enumerate(mondays):
        x, aside = f"{LEFT + place * wide:.2f}%", ' class="soft second"' if number % 2 else ' class="soft"'
        marks.append(f'<line class="tick" x1="{x}" x2="{x}" y1="{FOOT}" y2="{FOOT + 5}"/>')
        marks.append(f'<text{aside} x="{x}" y="{FOOT + 18}">{_short(days[place].on)}</text>')
    return marks


def _short(on: date) -> str:
    return f"{on.day} {on:%b}"


def _shortages(outlook: Outlook, days: Sequence[Day], wide: float) -> list[str]:
    """How many find no place, at the end of their week."""
    first, marks = days[0].on, []
    for week in outlook.weeks:
        if week.short_expected:
            x = LEFT + ((week.days[-1].on - first).days + 1) * wide
            said = f"▼ {week.short_expected}"
            marks.append(f'<text class="short" x="{x:.2f}%" y="{FOOT + 35}" text-anchor="end">{said}</text>')
    return marks


def _tell(outlook: Outlook) -> str:
    """The same as a sentence, for whoever does not see it."""
    say = speech()
    weeks = (
        f"week of {say.date(week.days[0].on)}: {week.booked} booked, {week.unbooked} to be booked, "
        f"{week.expected} expected, {week.free} slots free, {week.short_expected} without a place"
        for week in outlook.weeks
    )
    return f"By day, in slots of 20 minutes. {'; '.join(weeks)}."
