"""Week by week or month by month: the share within target (p-chart), and how many were seen (XmR)."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final, NamedTuple

from django.utils import dateformat
from django.utils.safestring import SafeString

from caseload.waits.control import RUN
from caseload.waits.figures import Flow, FlowPoint, Trend, TrendPoint
from caseload.waits.rows import Period
from caseload.waits.terms import Signal
from caseload.web.charts.frame import (
    NARROW,
    NONE,
    WIDE,
    Frame,
    box_swatch,
    counts,
    draw,
    joined,
    line_swatch,
    mark,
    mark_swatch,
    number,
    path,
    shares_upward,
    stretched,
    text,
    title,
    upward,
)
from caseload.wording.dates import say_date, say_month
from caseload.wording.waits import say_share

FEW: Final = 26
"""So many points have room to be drawn large."""
LABELS: Final = 6
"""So many periods are named on a telephone; twice as many on anything wider."""


class Dot(NamedTuple):
    """One period as it is drawn; `value` and limits are None where there is nothing to say."""

    period: Period
    value: float | None
    said: str
    limits: tuple[float, float] | None
    signal: str


def trend_chart(trend: Trend) -> SafeString:
    """Nothing where nothing fell due."""
    if trend.mean is None:
        return NONE
    dots = [_share(point) for point in trend.points]
    frame = Frame(0, len(dots))
    head = [title("Within target, by the target day"), shares_upward(frame)]
    return draw(
        _tell("Within target", dots, say_share(trend.mean)),
        [*head, *_chart(dots, frame, trend.mean)],
        _key(dots, f"mean {say_share(trend.mean)}"),
        "trend",
    )


def flow_chart(flow: Flow, done: str = "seen") -> SafeString:
    """`done` is the word for what was waited for. Nothing where there is no period."""
    if flow.mean is None:
        return NONE
    limits = None if flow.lower is None or flow.upper is None else (max(0.0, flow.lower), flow.upper)
    dots = [_seen(point, limits) for point in flow.points]
    ticks = counts(max([*(point.seen for point in flow.points), limits[1] if limits else 0, 1]))
    frame = Frame(0, len(dots), ticks[-1])
    return draw(
        _tell(done.capitalize(), dots, number(flow.mean)),
        [title(done.capitalize()), upward(frame, ticks, map(str, ticks)), *_chart(dots, frame, flow.mean)],
        _key(dots, f"mean {number(flow.mean)}"),
        "trend",
    )


def _share(point: TrendPoint) -> Dot:
    if point.share is None:
        return Dot(point.period, None, "nothing due", None, "")
    return Dot(point.period, point.share, say_share(point.share), (point.lower, point.upper), point.signal)


def _seen(point: FlowPoint, limits: tuple[float, float] | None) -> Dot:
    return Dot(point.period, point.seen, str(point.seen), limits, point.signal)


def _chart(dots: Sequence[Dot], frame: Frame, mean: float) -> list[str]:
    y = number(frame.y(mean))
    paths = [_limits(dots, frame), path("mean", f"M0 {y}H100"), *_lines(dots, frame), *_runs(dots, frame, mean)]
    return [stretched(*paths), *_marks(dots, frame), *_named(dots, frame), *_values(dots, frame, mean)]


def _x(frame: Frame, place: int) -> float:
    """The middle of a period."""
    return frame.x(place + 0.5)


def _limits(dots: Sequence[Dot], frame: Frame) -> str:
    """What chance leaves, as wide as each period: there and back for every stretch of periods that have limits."""
    data = []
    for known, stretch in groupby(enumerate(dots), lambda item: item[1].limits is not None):
        if known:
            spans = [(frame.x(place), frame.x(place + 1), dot.limits or (0, 0)) for place, dot in stretch]
            there = "".join(f"V{number(frame.y(upper))}H{number(end)}" for _, end, (_, upper) in spans)
            back = "".join(f"V{number(frame.y(lower))}H{number(start)}" for start, _, (lower, _) in reversed(spans))
            data.append(f"M{number(spans[0][0])} {number(frame.y(spans[0][2][1]))}{there}{back}z")
    return path("limits", "".join(data))


def _lines(dots: Sequence[Dot], frame: Frame) -> list[str]:
    """Through neighbours: no line over a period of which nothing is said."""
    drawn = []
    for known, stretch in groupby(enumerate(dots), lambda item: item[1].value is not None):
        if known:
            drawn.append(joined((_x(frame, place), frame.y(dot.value or 0)) for place, dot in stretch))
    return [path("through", "".join(drawn))]


def _runs(dots: Sequence[Dot], frame: Frame, mean: float) -> list[str]:
    """A thick line through all of a run, from the first of the eight on."""
    return [
        path("through run-line", joined((_x(frame, place), frame.y(dots[place].value or 0)) for place in run))
        for run in runs(dots, mean)
    ]


def runs(dots: Sequence[Dot], mean: float) -> list[list[int]]:
    """Places of eight or more in a row on one side of the mean; a period of which nothing is said is passed over."""
    said = [(place, dot.value) for place, dot in enumerate(dots) if dot.value is not None]
    sides = groupby(said, lambda item: 0 if abs(item[1] - mean) < 1e-12 else 1 if item[1] > mean else -1)
    found = [(side, [place for place, _ in run]) for side, run in sides]
    return [run for side, run in found if side and len(run) >= RUN]


def _marks(dots: Sequence[Dot], frame: Frame) -> list[str]:
    plain = "dot" if len(dots) <= FEW else "speck"
    kinds = {Signal.BEYOND: "beyond", Signal.RUN: "run"}
    return [
        mark(kinds.get(Signal(dot.signal), plain) if dot.signal else plain, _x(frame, place), frame.y(dot.value))
        for place, dot in enumerate(dots)
        if dot.value is not None
    ]


def _values(dots: Sequence[Dot], frame: Frame, mean: float) -> list[str]:
    """What lies beyond where that is little, and the last, with their numbers; of those that would touch, the first."""
    beyond = [place for place, dot in enumerate(dots) if dot.signal == Signal.BEYOND]
    beyond = beyond if len(beyond) <= LABELS else []
    last = [place for place, dot in enumerate(dots) if dot.value is not None][-1:]
    drawn, taken = [], {NARROW: -100.0, WIDE: -100.0}
    for place in [*beyond, *(each for each in last if each not in beyond)]:
        dot, x = dots[place], _x(frame, place)
        room = [letter for letter in taken if x - taken[letter] >= letter * (len(dot.said) + 1)]
        taken |= dict.fromkeys(room, x)
        if dot.value is not None and room:
            kind = "said" if NARROW in room else "said wide-only"
            drawn.append(_value(dot, x, frame.y(dot.value), _over(dots, place, mean), kind))
    return drawn


def _over(dots: Sequence[Dot], place: int, mean: float) -> bool:
    """On the side from which no line comes; else on the far side from the mean."""
    value = dots[place].value or 0.0
    beside = [dot.value for dot in dots[max(0, place - 1) : place + 2] if dot.value is not None]
    if value == min(beside) != max(beside):
        return False
    return value == max(beside) or value >= mean


def _value(dot: Dot, x: float, y: float, above: bool, kind: str) -> str:
    """Over the mark or under it, where there is room."""
    over = (above and y > 2) or y > 90
    anchor = "end" if x > 94 else "start" if x < 4 else "middle"
    return text(dot.said, x, y, dy="-.75em" if over else "1.5em", anchor=anchor, kind=kind)


def _named(dots: Sequence[Dot], frame: Frame) -> list[str]:
    """Every so many periods by its first day; the year where it is new."""
    many = -(-len(dots) // (2 * LABELS))
    few = many if len(dots) <= LABELS else 2 * many
    months = all(dot.period.whole_months == 1 for dot in dots)
    parts, year = [], 0
    for place in range(0, len(dots), many):
        first, shown = dots[place].period.first, place % few == 0
        kind = "soft" if shown else "soft wide-only"
        said = dateformat.format(first, "M" if months else "j M")
        parts.append(text(said, _x(frame, place), 100, dy="1.6em", anchor="middle", kind=kind))
        if shown and first.year != year:
            parts.append(text(str(first.year), _x(frame, place), 100, dy="2.9em", anchor="middle", kind="soft"))
            year = first.year
    return parts


def _key(dots: Sequence[Dot], mean: str) -> list[str]:
    signals = {dot.signal for dot in dots}
    items = [line_swatch("mean", mean)]
    if any(dot.limits for dot in dots):
        items.append(box_swatch("limits", "what chance leaves"))
    if Signal.BEYOND in signals:
        items.append(mark_swatch("beyond", "beyond the limits"))
    if Signal.RUN in signals:
        items.append(mark_swatch("run", "eighth in a row or later on one side"))
    return items


def _tell(what: str, dots: Sequence[Dot], mean: str) -> str:
    said = ", ".join(f"{_when(dot.period)} {dot.said}{_signal(dot.signal)}" for dot in dots)
    return f"{what}, mean {mean}: {said}."


def _when(period: Period) -> str:
    return say_month(period.first) if period.whole_months == 1 else f"from {say_date(period.first)}"


def _signal(signal: str) -> str:
    words = {"": "", Signal.BEYOND: " (beyond the limits)", Signal.RUN: " (eighth in a row or later on one side)"}
    return words[signal]
