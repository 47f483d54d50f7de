"""How waits end, day by day: seen, the competing ends, and who still waits, stacked to the whole."""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple
from zlib import crc32

from django.utils.safestring import SafeString

from caseload.waits.figures import Summary
from caseload.waits.terms import COMPETING, End
from caseload.web.charts.curve import LEAST, last_day
from caseload.web.charts.frame import (
    NARROW,
    NONE,
    Frame,
    across,
    beneath,
    draw,
    path,
    shares_upward,
    spacing,
    steps,
    stretched,
    swatch,
    text,
    tile,
    tiled,
    title,
)
from caseload.wording import label
from caseload.wording.dates import say_period
from caseload.wording.waits import say_share

TILE: Final = 8
HATCHES: Final = (
    "M-1 9 9-1M3 13 13 3", "M-1-1 9 9M-5 3 5 13", "M0 4h8", "M4 0v8", "M0 4h8M4 0v8", "M-1 9 9-1M-1-1 9 9",
    "M2 2h1M6 6h1",
)  # fmt: skip
"""Lines of a tile of 8 by 8; so many competing ends are told apart."""
THICK: Final = 8.0
"""Per cent upward that words need inside an area."""


class Area(NamedTuple):
    """`top` are the corners of its upper edge in per cent, from day 0 to the last; `share` is what it is at the end."""

    word: str
    said: str
    hatch: str
    top: list[tuple[float, float]]
    share: float


def ends_chart(summary: Summary, done: str = "seen") -> SafeString:
    """`done` is the word for what was waited for. Nothing where too few waited or none ended."""
    if summary.refused or not summary.incidence:
        return NONE
    last = last_day(summary)
    frame, step = Frame(0, max(last, 1)), spacing(max(last, 1), 8)
    areas, ticks = _areas(summary, frame, done), range(0, max(last, 1) + 1, step)
    own = f"e{crc32(repr(areas).encode()):08x}"
    parts = [
        title("Of all waits"),
        *(_draw(area, own) for area in reversed(areas)),
        shares_upward(frame),
        across(frame, ticks, map(str, ticks)),
        beneath("days waited"),
        *_names(areas),
    ]
    return draw(_tell(summary, areas), parts, [_swatch(area, own) for area in reversed(areas)], "ends")


def _areas(summary: Summary, frame: Frame, done: str) -> list[Area]:
    """From the bottom: seen, the competing ends in their order, still waiting."""
    words = [End.SEEN, *(word for word in COMPETING if word in summary.incidence)]
    days = sorted({reached.day for word in words for reached in summary.incidence.get(word, ())})
    below, areas = dict.fromkeys(days, 0.0), []
    for place, word in enumerate(words):
        own, value = {each.day: each.value for each in summary.incidence.get(word, ())}, 0.0
        for day in days:
            value = own.get(day, value)
            below[day] += value
        hatch = HATCHES[(place - 1) % len(HATCHES)] if place else "solid"
        areas.append(Area(word, label(word) if place else done, hatch, _edge(below, frame), value))
    rest = max(0.0, 1 - sum(area.share for area in areas))
    return [*areas, Area(End.WAITING, label(End.WAITING), "", [(0.0, 0.0), (100.0, 0.0)], rest)]


def _edge(reached: dict[int, float], frame: Frame) -> list[tuple[float, float]]:
    kept = [(0.0, 100.0)]
    for day, share in reached.items():
        if kept[-1][1] - frame.y(share) >= LEAST:
            kept.append((frame.x(day), frame.y(share)))
    return [*kept, (100.0, kept[-1][1])]


def _draw(area: Area, own: str) -> str:
    """The area below its upper edge, down to the axis: the next one is drawn over it. `own` makes ids of this chart."""
    edge, name = steps(area.top), f"{own}-{area.word}"
    return f"{tile(name, area.hatch, TILE)}{tiled(name, f'{edge}V100H0z')}{stretched(path('edge', edge))}"


def _swatch(area: Area, own: str) -> str:
    box = f'<rect class="boxed" width="100%" height="100%" fill="url(#{own}-{area.word})"/>'
    return swatch(box, f"{area.said} {say_share(area.share)}")


def _names(areas: Sequence[Area]) -> Iterable[str]:
    """The word in each area where it is thick enough, at its thickest."""
    bottom = [(0.0, 100.0), (100.0, 100.0)]
    for area in areas:
        words = area.said
        width = len(words) * NARROW + 4
        spots = [_thickness(bottom, area.top, start, start + width) for start in range(0, int(100 - width) + 1, 2)]
        best = max(spots, default=(0.0, 0.0, 0.0))
        if best[0] >= THICK:
            yield text(words, best[1] + 2, best[2], dy=".35em", kind="said")
        bottom = area.top


def _thickness(
    bottom: Sequence[tuple[float, float]], top: Sequence[tuple[float, float]], start: float, end: float
) -> tuple[float, float, float]:
    """How thick an area is all the way from `start` to `end`, with the start and the middle upward.

    Edges rise only: the upper one is lowest at the start, the lower one is highest at the end.
    """
    over, under = _at(top, start), _at(bottom, end)
    return under - over, start, (under + over) / 2


def _at(edge: Sequence[tuple[float, float]], x: float) -> float:
    return next(y for place, y in reversed(edge) if place <= x)


def _tell(summary: Summary, areas: Sequence[Area]) -> str:
    said = ", ".join(f"{area.said} {say_share(area.share)}" for area in areas)
    return f"How waits end, {say_period(summary.period)}, by day {last_day(summary)}: {said}."
