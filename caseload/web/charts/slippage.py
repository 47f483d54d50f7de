"""Stitches out, day by day from the target, with the window that they should fall into."""

from typing import Final

from django.utils.safestring import SafeString

from caseload.waits.figures import Slippage
from caseload.web.charts.frame import (
    NONE,
    Frame,
    across,
    beneath,
    box_swatch,
    counts,
    draw,
    number,
    path,
    spacing,
    stretched,
    text,
    title,
    upward,
)
from caseload.wording.dates import say_days

THICK: Final = 0.8
"""Of a day that its bar takes."""
ROOM: Final = 0.12
"""Of all days, what is left free at the end for those still in."""
MINUS: Final = "\N{MINUS SIGN}"


def slippage_chart(slippage: Slippage | None) -> SafeString:
    """Nothing where no stitches are out."""
    if slippage is None or not slippage.by_day:
        return NONE
    ticks = counts(max(slippage.overdue, *(out for _, out in slippage.by_day)))
    frame = _frame(slippage, ticks[-1])
    every = _days(slippage)
    step = spacing(every[-1] - every[0], 9)
    days = [day for day in every if day % step == 0]
    parts = [
        title("Stitches out", "-2.2em"),
        *_windows(slippage, frame),
        upward(frame, ticks, map(str, ticks)),
        *_bars(slippage, frame),
        *_still_in(slippage, frame),
        stretched(path("target", f"M{number(frame.x(0))} 0V100")),
        text("target day", frame.x(0), 0, dy="-.5em", anchor="middle", kind="said"),
        across(frame, days, map(_signed, days)),
        beneath("days from the target day"),
    ]
    return draw(_tell(slippage), parts, _key(slippage), "slippage")


def _days(slippage: Slippage) -> range:
    """From the first to the last, of bars and windows."""
    days = [0, *(day for day, _ in slippage.by_day), *(day for window in slippage.windows for day in window)]
    return range(min(days), max(days) + 1)


def _frame(slippage: Slippage, top: int) -> Frame:
    """From half a day before the first day to half a day after the last, and room for those still in."""
    days = _days(slippage)
    room = max(2.0, ROOM * len(days)) if slippage.overdue else 0.5
    return Frame(days[0] - 0.5, days[-1] + room, top)


def _windows(slippage: Slippage, frame: Frame) -> list[str]:
    """Shaded from the start of the first day to the end of the last; where two lie over each other, darker."""
    return [_column("window", first - 0.5, last + 0.5, frame, 0, frame.top) for first, last in slippage.windows]


def _column(kind: str, start: float, end: float, frame: Frame, low: float, high: float) -> str:
    x, y = frame.x(start), frame.y(high)
    width, height = number(frame.x(end) - x), number(frame.y(low) - y)
    return f'<rect class="{kind}" x="{number(x)}%" y="{number(y)}%" width="{width}%" height="{height}%"/>'


def _bars(slippage: Slippage, frame: Frame) -> list[str]:
    """Solid inside the window; those outside it hollow, on top."""
    outside, parts = dict(slippage.outside), []
    for day, out in slippage.by_day:
        inside = out - outside.get(day, 0)
        if inside:
            parts.append(_column("bar", day - THICK / 2, day + THICK / 2, frame, 0, inside))
        if out > inside:
            parts.append(_column("bar out", day - THICK / 2, day + THICK / 2, frame, inside, out))
    return parts


def _still_in(slippage: Slippage, frame: Frame) -> list[str]:
    """At the end, apart from the days: the bars alone would say that everybody is out."""
    if not slippage.overdue:
        return []
    bar = _column("bar open", frame.high - 1, frame.high, frame, 0, slippage.overdue)
    words = f"{slippage.overdue} still in"
    return [bar, text(words, 100, frame.y(slippage.overdue), dy="-.5em", anchor="end", kind="said")]


def _signed(day: int) -> str:
    return f"+{day}" if day > 0 else f"{MINUS}{-day}" if day else "0"


def _key(slippage: Slippage) -> list[str]:
    items = [
        box_swatch("bar", f"inside the window {slippage.inside}"),
        box_swatch("bar out", f"before it {slippage.early}, after it {slippage.late}"),
    ]
    if slippage.windows:
        items.append(box_swatch("window", _or(slippage.windows)))
    if slippage.overdue:
        items.append(box_swatch("bar open", "still in after the window"))
    return items


def _or(windows: tuple[tuple[int, int], ...]) -> str:
    """`window: 2 days before to 2 days after`."""
    said = " or ".join(f"{_signed(first)} to {_signed(last)}" for first, last in windows)
    return f"window, {said} days"


def _tell(slippage: Slippage) -> str:
    days = ", ".join(f"{_when(day)} {out}" for day, out in slippage.by_day)
    return (
        f"Stitches out by days from the target: {days}. Before the window {slippage.early}, inside it "
        f"{slippage.inside}, after it {slippage.late}; {slippage.overdue} still in after it."
    )


def _when(day: int) -> str:
    if day == 0:
        return "on the target day"
    return f"{say_days(abs(day))} {'after' if day > 0 else 'before'}"
