"""How many still wait, day by day: the curve with its band, whom it loses from sight, and what is read off it."""

from bisect import bisect_right
from collections.abc import Sequence
from typing import Final, NamedTuple

from django.utils.safestring import SafeString

from caseload.waits.figures import Day, Step, Summary
from caseload.web.charts.frame import (
    NONE,
    Frame,
    across,
    box_swatch,
    draw,
    line_swatch,
    number,
    path,
    shares_upward,
    spacing,
    steps,
    stretched,
    swatch,
    text,
    title,
)
from caseload.wording.dates import say_period
from caseload.wording.waits import say_share

MEDIAN: Final = 0.5
LAST: Final = 0.08
"""Shares still waiting at which the median and the 92nd centile are read."""
LEAST: Final = 0.15
"""Per cent of the plot by which a corner has to differ from the one before, or it cannot be seen."""
APART: Final = 0.5
"""Per cent between two marks, or they are one."""
TICK: Final = 1.3
FEW_DIGITS: Final = 3
ROOM: Final = 36.0
"""Per cent across that the words of a reading take on a telephone."""
MARGIN: Final = 10.0
"""Per cent across that words may reach out at the left."""


RAISED: Final = -7.0
"""Per cent from the top of the plot to the second row of words over it."""


class Reading(NamedTuple):
    """What is read off the curve, and where."""

    words: str
    x: float
    y: float
    kind: str


def curve_chart(summary: Summary, before: Summary | None = None) -> SafeString:
    """Nothing where there are too few waits for a curve."""
    if summary.refused:
        return NONE
    last = last_day(summary)
    frame, earlier = Frame(0, max(last, 1)), before if before and before.curve else None
    readings = _readings(summary, frame)
    rows = (1 + _in_two_rows(readings)) if readings else 0
    parts = [
        title("Still waiting", ("-1.1em", "-1.8em", "-3.2em")[rows]),
        shares_upward(frame),
        stretched(_spread(summary, frame, last), *_read_off(readings), _earlier(earlier, frame)),
        stretched(*_line(summary, frame, last)),
        *_words(readings),
        *_watched(summary, frame),
    ]
    return draw(
        _tell(summary, earlier), parts, _key(summary, earlier), ("curve", "curve read", "curve read twice")[rows]
    )


def last_day(summary: Summary) -> int:
    """The last day on which anybody was watched."""
    if summary.tail:
        return summary.tail.last_day
    days = (*(step.day for step in summary.curve), *(day for day, _ in (*summary.left, *summary.at_risk)))
    return max(days, default=0)


def _corners(curve: Sequence[Step], frame: Frame, last: int, field: str) -> list[tuple[float, float]]:
    """From day 0 to the last day; those that differ by less than can be seen are left out."""
    kept = [(frame.x(0), frame.y(1.0))]
    for step in curve:
        if step.day <= last and abs((y := frame.y(getattr(step, field))) - kept[-1][1]) >= LEAST:
            kept.append((frame.x(step.day), y))
    end = [step for step in curve if step.day <= last][-1:]
    return [*kept, (frame.x(last), frame.y(getattr(end[0], field)) if end else kept[-1][1])]


def _spread(summary: Summary, frame: Frame, last: int) -> str:
    upper = _corners(summary.curve, frame, last, "upper")
    lower = _corners(summary.curve, frame, last, "lower")
    pairs = list(zip(lower, lower[1:-1], strict=False))
    back = "".join(f"H{number(x)}V{number(y)}" for (_, y), (x, _) in reversed(pairs))
    return path("spread", f"{steps(upper)}V{number(lower[-1][1])}{back}H0z") if summary.curve else ""


def _line(summary: Summary, frame: Frame, last: int) -> list[str]:
    """Solid, and dotted from the day on which fewer than five are left; a notch where somebody left it unseen."""
    thin_from = summary.tail.thin_from if summary.tail else None
    corners = _corners(summary.curve, frame, last, "still_waiting")
    if thin_from is None:
        return [path("curve-line", steps(corners)), path("left", _marks(summary, frame))]
    x = frame.x(thin_from)
    solid = [corner for corner in corners if corner[0] < x]
    dotted = [(x, solid[-1][1]) if solid else corners[0], *(corner for corner in corners if corner[0] >= x)]
    solid = [*solid, dotted[0]]
    return [
        path("curve-line", steps(solid)),
        path("curve-line few", steps(dotted)),
        path("left", _marks(summary, frame)),
    ]


def _marks(summary: Summary, frame: Frame) -> str:
    """Notches on the curve; of two that lie too near, the first."""
    drawn, taken = [], -APART
    for day, _ in summary.left:
        x = frame.x(day)
        if x - taken >= APART:
            y = frame.y(_still_waiting(summary.curve, day)) - TICK
            drawn.append(f"M{number(x)} {number(y)}v{number(2 * TICK)}")
            taken = x
    return "".join(drawn)


def _still_waiting(curve: Sequence[Step], day: int) -> float:
    passed = bisect_right(curve, day, key=lambda step: step.day)
    return curve[passed - 1].still_waiting if passed else 1.0


def _earlier(before: Summary | None, frame: Frame) -> str:
    if before is None:
        return ""
    last = min(last_day(before), int(frame.high))
    return path("earlier", steps(_corners(before.curve, frame, last, "still_waiting")))


def _readings(summary: Summary, frame: Frame) -> list[Reading]:
    return [
        Reading(f"{words} {day}", frame.x(day), frame.y(share), kind)
        for words, day, share, kind in (
            ("half by day", summary.median.day, MEDIAN, "said"),
            (f"{say_share(1 - LAST)} by day", summary.centile_92.day, LAST, ""),
        )
        if day is not None
    ]


def _read_off(readings: Sequence[Reading]) -> list[str]:
    """Both days from their words to the curve and down to the axis; the median also from the axis of shares."""
    tops = [0.0, RAISED if _in_two_rows(readings) else 0.0]
    lines = [
        path("hair", f"M{number(x)} {number(top)}V{number(y)}")
        for (_, x, y, _), top in zip(readings, tops, strict=False)
    ]
    drops = [path("drop", f"M{number(x)} {number(y)}V100") for _, x, y, _ in readings]
    return [*lines, *drops, *(path("drop", f"M0 {number(y)}H{number(x)}") for _, x, y, kind in readings if kind)]


def _words(readings: Sequence[Reading]) -> list[str]:
    """Over the plot, where no curve runs; where two would touch they turn away, or stand in two rows."""
    anchors, rows = [_anchor(each.x) for each in readings], ["-.5em", "-.5em"]
    if _in_two_rows(readings):
        rows[1] = "-1.85em"
    elif _touch(readings):
        anchors = ["end", "start"]
    return [
        text(each.words, each.x, 0, dy=dy, anchor=anchor, kind=each.kind)
        for each, anchor, dy in zip(readings, anchors, rows, strict=False)
    ]


def _touch(readings: Sequence[Reading]) -> bool:
    return len(readings) == 2 and readings[1].x - readings[0].x < ROOM


def _in_two_rows(readings: Sequence[Reading]) -> bool:
    """They would touch, and have no room to turn away."""
    return _touch(readings) and not (readings[0].x >= ROOM - MARGIN and readings[1].x <= 100 - ROOM)


def _anchor(x: float) -> str:
    """In the middle, unless that would reach beyond the edge of a telephone."""
    return "end" if x > 100 - ROOM / 2 else "start" if x < ROOM / 2 - MARGIN else "middle"


def _watched(summary: Summary, frame: Frame) -> list[str]:
    """The days, and beneath each how many are watched on it; every second one stands back where there is no room."""
    known = dict(summary.at_risk)
    ticks = list(known) or list(range(0, int(frame.high) + 1, spacing(frame.high, 8)))
    long = any(len(str(at_risk)) > FEW_DIGITS for at_risk in known.values())
    parts = [
        across(frame, ticks, map(str, ticks)),
        text("days waited, and how many were watched on each", 0, 100, dx="-3em", dy="3em", kind="soft"),
    ]
    for place, day in enumerate(known):
        kind = "wide-only" if long and place % 2 else ""
        parts.append(text(f"{known[day]:,}", frame.x(day), 100, dy="4.4em", anchor="middle", kind=kind))
    return parts


def _key(summary: Summary, before: Summary | None) -> list[str]:
    own = line_swatch("curve-line", f"{say_period(summary.period)}: {_half(summary.median)}")
    items = [own]
    if before:
        items.append(line_swatch("earlier", f"{say_period(before.period)}: {_half(before.median)}"))
    if summary.curve:
        items.append(box_swatch("spread", "95 % limits"))
    if summary.left:
        notch = '<path class="left" d="M14 2v8"/><line class="curve-line" x2="100%" y1="50%" y2="50%"/>'
        items.append(swatch(notch, "still waiting, or ended otherwise"))
    if summary.tail and summary.tail.thin_from is not None:
        items.append(line_swatch("curve-line few", "fewer than 5 watched"))
    return items


def _half(median: Day) -> str:
    return "half not reached" if median.day is None else f"half by day {median.day}"


def _tell(summary: Summary, before: Summary | None) -> str:
    said = [
        f"Share still waiting, day by day, {say_period(summary.period)}: {_by(summary.median, 'half')}, "
        f"{_by(summary.centile_92, '92 in 100')}, of {summary.waits} waits of which {summary.waiting} still wait."
    ]
    if before:
        said.append(
            f"{say_period(before.period)}: {_by(before.median, 'half')}, {_by(before.centile_92, '92 in 100')}."
        )
    if summary.at_risk:
        watched = ", ".join(f"{at_risk} on day {day}" for day, at_risk in summary.at_risk)
        said.append(f"Watched: {watched}.")
    return " ".join(said)


def _by(found: Day, who: str) -> str:
    """`half by day 22 (95 % limits 17 to 26)`."""
    if found.day is None:
        return f"{who} not reached by the last day"
    lower, upper = ("no limit" if day is None else str(day) for day in (found.lower, found.upper))
    return f"{who} by day {found.day} (95 % limits {lower} to {upper})"
