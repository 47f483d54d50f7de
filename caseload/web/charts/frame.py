"""What all charts of waits share: where a value lies, ticks, marks, words and the key above a chart.

Places are per cent of the plot both ways, so that a chart fills a telephone and a wide screen; words keep their size
and stand in the margins that waits.css leaves, in em, so that they grow with the reader's letters. Whatever is a line
of many corners is one path inside a plot that is stretched; strokes keep their width.
"""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final, NamedTuple

from django.utils.safestring import SafeString, mark_safe

from caseload.wording.waits import say_share

SPACINGS: Final = (1, 2, 5, 7, 14, 28)
NONE: Final = SafeString("")
QUARTERS: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
NARROW: Final = 2.4
WIDE: Final = 1.5
"""How many per cent of the plot a letter takes on a telephone, and at least on anything wider."""


class Frame(NamedTuple):
    """The values across and upward that a plot spans; upward it begins with 0."""

    low: float
    high: float
    top: float = 1.0

    def x(self, value: float) -> float:
        """Per cent from the left."""
        return round(100 * (value - self.low) / (self.high - self.low), 1)

    def y(self, value: float) -> float:
        """Per cent from the top."""
        return round(100 - 100 * value / self.top, 1)


def number(value: float) -> str:
    """At most one decimal, as short as it can be."""
    return f"{round(value, 1):.1f}".removesuffix(".0")


def spacing(span: float, at_most: int) -> int:
    """Days between ticks: the least of those that people count in, so that there are no more than `at_most`."""
    found = next((each for each in SPACINGS if span < each * at_most), 0)
    return found or SPACINGS[-1] * int(-(-(span + 1) // (SPACINGS[-1] * at_most)))


def counts(highest: float, at_most: int = 5) -> list[int]:
    """Even ticks from 0 to the first at or above the highest: steps of 1, 2 or 5 times a power of ten."""
    step = 1
    while step * (at_most - 1) < highest:
        step = step * 5 // 2 if str(step)[0] == "2" else step * 2
    return list(range(0, step * max(1, -int(-highest // step)) + 1, step))


def draw(said: str, parts: Iterable[str], key: Iterable[str] = (), kind: str = "") -> SafeString:
    """A picture that says `said`, with its key above it. `kind` is a further class, for its height and margins."""
    items = "".join(f"<li>{item}</li>" for item in key)
    above = f'<ul class="plot-key" aria-hidden="true">{items}</ul>' if items else ""
    classes = f"long plot {kind}".rstrip()
    return mark_safe(f'{above}<svg class="{classes}" role="img" aria-label="{escape(said)}">{"".join(parts)}</svg>')


def swatch(drawing: str, words: str) -> str:
    """One entry of the key."""
    return f'<svg class="swatch">{drawing}</svg>{escape(words)}'


def line_swatch(kind: str, words: str) -> str:
    return swatch(f'<line class="{kind}" x2="100%" y1="50%" y2="50%"/>', words)


def box_swatch(kind: str, words: str) -> str:
    return swatch(f'<rect class="{kind}" width="100%" height="100%"/>', words)


def mark_swatch(kind: str, words: str) -> str:
    return swatch(mark(kind, 50, 50), words)


def stretched(*paths: str) -> str:
    """Paths whose numbers are per cent of the plot."""
    inside = "".join(paths)
    return f'<svg viewBox="0 0 100 100" preserveAspectRatio="none" overflow="visible">{inside}</svg>'


def tile(name: str, lines: str, size: int) -> str:
    """A hatch under a name, drawn the same however the chart is stretched; "solid" is the fill of what is done."""
    square = f'width="{size}" height="{size}"'
    drawn = f'<rect class="ground" {square}/>'
    if lines:
        drawn += f'<rect class="tone" {square}/>' if lines == "solid" else f'<path class="hatch" d="{lines}"/>'
    return f'<pattern id="{name}" {square} patternUnits="userSpaceOnUse">{drawn}</pattern>'


def tiled(name: str, data: str) -> str:
    """What lies inside a path, in per cent of the plot, filled with the hatch of that name."""
    inside = f'<path transform="scale(.01)" d="{data}"/>'
    return (
        f'<clipPath id="{name}-in" clipPathUnits="objectBoundingBox">{inside}</clipPath>'
        f'<rect width="100%" height="100%" fill="url(#{name})" clip-path="url(#{name}-in)"/>'
    )


def path(kind: str, data: str) -> str:
    return f'<path class="{kind}" d="{data}"/>' if data else ""


def steps(places: Sequence[tuple[float, float]]) -> str:
    """From place to place, first across, then up or down; (x, y) in per cent."""
    (x, y), *rest = places
    return f"M{number(x)} {number(y)}" + "".join(f"H{number(to)}V{number(down)}" for to, down in rest)


def joined(places: Iterable[tuple[float, float]]) -> str:
    """In straight lines from place to place."""
    said = [f"{number(x)} {number(y)}" for x, y in places]
    return f"M{'L'.join(said)}" if len(said) > 1 else ""


SHAPES: Final = {
    "dot": '<circle class="dot" r="4"/>',
    "speck": '<circle class="dot" r="2.5"/>',
    "run": '<rect class="run" x="-4.5" y="-4.5" width="9" height="9"/>',
    "beyond": '<path class="beyond" d="M0-7.5 7.5 0 0 7.5-7.5 0z"/>',
    "near": '<path class="near" d="M0-7.5 7.5 0 0 7.5-7.5 0z"/>',
}
"""Told apart by shape: a colour only says it again."""


def mark(kind: str, x: float, y: float) -> str:
    return f'<svg x="{number(x)}%" y="{number(y)}%" overflow="visible">{SHAPES[kind]}</svg>'


def text(words: str, x: float, y: float, **own: str) -> str:
    """`own` are attributes: `dx`, `dy`, `anchor`, `kind`."""
    names = {"anchor": "text-anchor", "kind": "class"}
    said = "".join(f' {names.get(name, name)}="{value}"' for name, value in own.items() if value)
    return f'<text x="{number(x)}%" y="{number(y)}%"{said}>{escape(words)}</text>'


def title(words: str, dy: str = "-1.1em") -> str:
    """What is counted upward, over the labels of that axis."""
    return text(words, 0, 0, dx="-3em", dy=dy, kind="soft")


def upward(frame: Frame, ticks: Iterable[float], say: Iterable[str]) -> str:
    """Hairlines across with their values at the left; the axis itself at 0."""
    parts = []
    for tick, said in zip(ticks, say, strict=True):
        y = number(frame.y(tick))
        parts.append(f'<line class="{"hair" if tick else "axis"}" x2="100%" y1="{y}%" y2="{y}%"/>')
        parts.append(text(said, 0, frame.y(tick), dx="-.5em", dy=".35em", anchor="end", kind="soft"))
    return "".join(parts)


def shares_upward(frame: Frame) -> str:
    return upward(frame, QUARTERS, map(say_share, QUARTERS))


def across(frame: Frame, ticks: Iterable[float], say: Iterable[str]) -> str:
    """Notches below the axis with their words."""
    parts = []
    for tick, said in zip(ticks, say, strict=True):
        x = number(frame.x(tick))
        parts.append(f'<line class="axis" x1="{x}%" x2="{x}%" y1="100%" y2="102%"/>')
        parts.append(text(said, frame.x(tick), 100, dy="1.5em", anchor="middle", kind="soft"))
    return "".join(parts)


def beneath(words: str) -> str:
    """What is counted across, under the words of that axis."""
    return text(words, 100, 100, dy="2.9em", anchor="end", kind="soft")
