"""What was measured over time, as small charts of one kind, side by side: the same numbers as in the table beneath.

Each is a line through its values over the same stretch of days, on its own scale. Every value is written at its point
where there are few; where there are many, the first, the last and the extremes.
"""

from collections.abc import Sequence
from datetime import date
from html import escape
from typing import Final, NamedTuple

from django.utils.safestring import SafeString, mark_safe

from caseload.measures.terms import Quantity
from caseload.reads.measured import Point, Series
from caseload.wording.measures import say_quantity, say_reading, say_value
from caseload.wording.speech import Speech, speech

TOPS: Final = {Quantity.PAIN: 10.0}
TOP: Final = 100.0
"""Where a scale ends, unless a value lies beyond."""
HEAD, FOOT, BELOW = 20, 92, 18
WIDE = 270
LEFT, RIGHT = 14.0, 91.0
FEW: Final = 5


class Chart(NamedTuple):
    title: str
    reading: str
    drawing: SafeString


class Frame(NamedTuple):
    """The days across and the values upward that a chart spans."""

    first: date
    last: date
    low: float
    high: float

    def x(self, on: date) -> str:
        days = (self.last - self.first).days
        share = (on - self.first).days / days if days else 0.5
        return f"{LEFT + share * (RIGHT - LEFT):.2f}%"

    def y(self, value: float) -> str:
        return f"{FOOT - (value - self.low) / (self.high - self.low) * (FOOT - HEAD):.1f}"


def charts(series: Sequence[Series], surgery_on: date | None) -> list[Chart]:
    """One for each series of at least two values; all of them over the same days."""
    drawn = [each for each in series if len(each.points) > 1]
    days = [point.on for each in drawn for point in each.points]
    return [
        Chart(
            say_quantity(each.quantity),
            say_reading(each.quantity, each.whole),
            _draw(each, _frame(each, min(days), max(days)), surgery_on, speech()),
        )
        for each in drawn
    ]


def _frame(series: Series, first: date, last: date) -> Frame:
    values = [point.value for point in series.points]
    return Frame(first, last, min(0.0, *values), max(TOPS.get(series.quantity, TOP), *values))


def _draw(series: Series, frame: Frame, surgery_on: date | None, say: Speech) -> SafeString:
    parts = [
        f'<svg class="long" width="{WIDE}" height="{FOOT + BELOW + 6}" role="img" '
        f'aria-label="{escape(_tell(series, surgery_on, say))}">',
        _scale(series, frame, surgery_on, say),
        *(_stroke(was, now, frame) for was, now in zip(series.points, series.points[1:], strict=False)),
        *(f'<circle class="at" cx="{frame.x(p.on)}" cy="{frame.y(p.value)}" r="4.5"/>' for p in series.points),
        *(_label(series, point, frame) for point in _labelled(series.points)),
        "</svg>",
    ]
    return mark_safe("".join(parts))


def _scale(series: Series, frame: Frame, surgery_on: date | None, say: Speech) -> str:
    """The two ends of the scale with their values, and the first and the last day."""
    across = f'x1="{LEFT - 2:g}%" x2="{RIGHT + 3:g}%"'
    parts = [
        f'<line class="axis" {across} y1="{frame.y(value)}" y2="{frame.y(value)}"{dashes}/>'
        f'<text class="soft" x="{LEFT - 4:g}%" y="{frame.y(value)}" dy="5" text-anchor="end">{value:.0f}</text>'
        for value, dashes in ((frame.high, ' stroke-dasharray="2 3"'), (frame.low, ""))
    ]
    ends = {frame.first: "start", frame.last: "end"} if frame.first < frame.last else {frame.first: "middle"}
    parts += [
        f'<text class="soft" x="{frame.x(on)}" y="{FOOT + BELOW}" text-anchor="{anchor}">'
        f"{escape(_on(on, surgery_on, say))}</text>"
        for on, anchor in ends.items()
    ]
    return "".join(parts)


def _on(on: date, surgery_on: date | None, say: Speech) -> str:
    return f"day {(on - surgery_on).days}" if surgery_on else say.date(on)


def _stroke(was: Point, now: Point, frame: Frame) -> str:
    return (
        f'<line class="now" x1="{frame.x(was.on)}" y1="{frame.y(was.value)}" '
        f'x2="{frame.x(now.on)}" y2="{frame.y(now.value)}"/>'
    )


def _labelled(points: Sequence[Point]) -> list[Point]:
    if len(points) <= FEW:
        return list(points)
    values = [point.value for point in points]
    places = {0, len(points) - 1, values.index(min(values)), values.index(max(values))}
    return [points[place] for place in sorted(places)]


def _label(series: Series, point: Point, frame: Frame) -> str:
    x, said = frame.x(point.on), escape(say_value(series.quantity, point.value))
    return f'<text x="{x}" y="{frame.y(point.value)}" dy="-9" text-anchor="middle">{said}</text>'


def _tell(series: Series, surgery_on: date | None, say: Speech) -> str:
    """The same as a sentence, for whoever does not see it."""
    values = (
        f"{say_value(series.quantity, point.value)} on "
        f"{say.day(point.on, (point.on - surgery_on).days) if surgery_on else say.date(point.on)}"
        for point in series.points
    )
    return f"{say_quantity(series.quantity)}: {', '.join(values)}."
