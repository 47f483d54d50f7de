"""Need against room: a column for each day, in slots, from what is booked to what stays free; who finds no place."""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple
from zlib import crc32

from django.utils import dateformat
from django.utils.safestring import SafeString

from caseload.booking.outlook import Day, Outlook, Week
from caseload.web.charts.frame import (
    NONE,
    Frame,
    counts,
    draw,
    number,
    path,
    stretched,
    swatch,
    text,
    tile,
    tiled,
    title,
    upward,
)
from caseload.wording.speech import Speech, speech

THICK: Final = 0.8
"""Of a day that its column takes."""
HALF: Final = (1 - THICK) / 2


class Part(NamedTuple):
    """One part of all columns: the field of a day, its words, and the lines of its hatch on a tile of 6 by 6."""

    field: str
    words: str
    hatch: str


PARTS: Final = (
    Part("booked", "booked", "solid"), Part("unbooked", "to be booked", "M-1 7 7-1M2 10 10 2"),
    Part("expected", "expected", "M1 1h1M4 4h1"), Part("free", "free", ""),
)  # fmt: skip


def need_chart(outlook: Outlook) -> SafeString:
    """Nothing where there is neither need nor room."""
    days = [day for week in outlook.weeks for day in week.days]
    highest = max(map(_height, days), default=0)
    if not highest:
        return NONE
    ticks = counts(highest)
    frame, own = Frame(0, len(days), ticks[-1]), f"n{crc32(repr(days).encode()):08x}"
    short = any(week.short_most for week in outlook.weeks)
    parts = [
        title("Slots of 20 minutes"),
        *_lacking(outlook.weeks, frame),
        upward(frame, ticks, map(str, ticks)),
        *_columns(days, frame, own),
        *_mondays(days, frame),
        *(_shortages(outlook.weeks, frame) if short else ()),
    ]
    return draw(_tell(outlook.weeks, speech()), parts, _key(own), "need short-of" if short else "need")


def _height(day: Day) -> int:
    return day.booked + day.unbooked + day.expected + day.free


def _columns(days: Sequence[Day], frame: Frame, own: str) -> Iterable[str]:
    """Each part of all days as one drawing, on top of the parts before it."""
    below = [0] * len(days)
    for part in PARTS:
        boxes = []
        for place, day in enumerate(days):
            slots = getattr(day, part.field)
            if slots:
                boxes.append(_box(place, below[place], below[place] + slots, frame))
                below[place] += slots
        name = f"{own}-{part.field}"
        yield tile(name, part.hatch, 6)
        if boxes:
            yield tiled(name, "".join(boxes)) + stretched(path("edge", "".join(boxes)))


def _box(place: int, low: int, high: int, frame: Frame) -> str:
    left, right = number(frame.x(place + HALF)), number(frame.x(place + 1 - HALF))
    return f"M{left} {number(frame.y(low))}V{number(frame.y(high))}H{right}V{number(frame.y(low))}z"


def _mondays(days: Sequence[Day], frame: Frame) -> list[str]:
    """A notch and the date at each Monday; on a telephone every second date."""
    mondays = [place for place, day in enumerate(days) if day.on.weekday() == 0]
    parts = []
    for rank, place in enumerate(mondays):
        x, kind = frame.x(place), "soft wide-only" if rank % 2 else "soft"
        said = dateformat.format(days[place].on, "j M")
        parts.append(f'<line class="axis" x1="{number(x)}%" x2="{number(x)}%" y1="100%" y2="103%"/>')
        parts.append(text(said, x, 100, dy="1.5em", kind=kind))
    return parts


def _lacking(weeks: Sequence[Week], frame: Frame) -> Iterable[str]:
    """The weeks in which somebody finds no place lie on a ground of their own."""
    for start, week in _placed(weeks):
        if week.short_expected:
            x, width = frame.x(start), 100 * len(week.days) / frame.high
            yield f'<rect class="lacking" x="{number(x)}%" width="{number(width)}%" height="100%"/>'


def _shortages(weeks: Sequence[Week], frame: Frame) -> Iterable[str]:
    """How many find no place, below the middle of the week in which their last day lies."""
    yield (
        '<text class="short" x="0" y="100%" dx="-3em" dy="3em">'
        "▼ without a place<tspan> (at most)</tspan>, by the week of the last day</text>"
    )
    for start, week in _placed(weeks):
        if week.short_most:
            middle = number(frame.x(start + len(week.days) / 2))
            most = f"<tspan> ({week.short_most})</tspan>" if week.short_most > week.short_expected else ""
            yield (
                f'<text class="short" x="{middle}%" y="100%" dy="4.4em" text-anchor="middle">'
                f"{week.short_expected}{most}</text>"
            )


def _placed(weeks: Sequence[Week]) -> Iterable[tuple[int, Week]]:
    """Each week with the place of its first day."""
    start = 0
    for week in weeks:
        yield start, week
        start += len(week.days)


def _key(own: str) -> list[str]:
    return [
        swatch(f'<rect class="boxed" width="100%" height="100%" fill="url(#{own}-{part.field})"/>', part.words)
        for part in PARTS
    ]


def _tell(weeks: Sequence[Week], say: Speech) -> str:
    said = "; ".join(
        f"week of {say.date(week.days[0].on)}: {week.booked} booked, {week.unbooked} to be booked, "
        f"{week.expected} expected, {week.free} slots free, "
        f"{week.short_expected} without a place, {week.short_most} at most"
        for week in weeks
    )
    return f"By day, in slots of 20 minutes. {said}."
