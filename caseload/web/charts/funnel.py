"""Does a site or surgeon differ from the rest by more than chance: size across, share within target upward."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from django.utils.safestring import SafeString

from caseload.waits.figures import Funnel, FunnelPoint
from caseload.web.charts.frame import (
    NARROW,
    NONE,
    WIDE,
    Frame,
    across,
    beneath,
    counts,
    draw,
    joined,
    line_swatch,
    mark,
    mark_swatch,
    path,
    shares_upward,
    stretched,
    text,
    title,
)
from caseload.wording.waits import say_share

MARKS: Final = {"": "dot", "95": "near", "99.8": "beyond"}
BEYOND: Final = 1.1
"""How far the sizes go on after the largest."""
LINE: Final = 5.5
"""Per cent of the plot upward that a line of words takes."""
ASIDE: Final = 3.5
"""Per cent across from the middle of a mark to its words, on a telephone."""


class Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )

    def holds(self, place: tuple[float, float]) -> bool:
        return self.left <= place[0] <= self.right and self.top <= place[1] <= self.bottom

    @property
    def inside(self) -> bool:
        return self.left >= 0 and self.right <= 100 and self.top >= 0 and self.bottom <= 100


class Spot(NamedTuple):
    """Where the words of a mark may stand."""

    anchor: str
    dx: str
    dy: str
    across: float
    up: float


SPOTS: Final = (
    Spot("start", ".8em", ".35em", 1, 0), Spot("end", "-.8em", ".35em", -1, 0),
    Spot("middle", "0", "-.8em", 0, -1), Spot("middle", "0", "1.5em", 0, 1),
)  # fmt: skip


def funnel_chart(funnel: Funnel | None, names: Mapping[str, str]) -> SafeString:
    """`names` by key. Nothing where no group is large enough to be shown."""
    if funnel is None or not funnel.points:
        return NONE
    largest = max(point.share.of for point in funnel.points)
    frame = Frame(0, max(2, largest * BEYOND))
    ticks = [tick for tick in counts(largest, 7) if tick <= frame.high]
    parts = [
        title("Within target"),
        shares_upward(frame),
        across(frame, ticks, map(str, ticks)),
        beneath("how many fell due"),
        stretched(*_limits(funnel, frame)),
        *(mark(MARKS[point.beyond], *_place(point, frame)) for point in funnel.points),
        *_labels(funnel, names, frame, WIDE, "wide-only"),
        *_labels(funnel, names, frame, NARROW, "narrow-only"),
    ]
    return draw(_tell(funnel, names), parts, _key(funnel), "funnel")


def letters(funnel: Funnel, names: Mapping[str, str]) -> dict[str, str]:
    """A letter for each group by its key, in the order of names: what stands at a mark without room for its name."""
    keys = sorted((point.key for point in funnel.points), key=lambda key: (names.get(key, key).casefold(), key))
    return {key: _letter(place) for place, key in enumerate(keys)}


def _letter(place: int) -> str:
    """A to Z, then AA, AB …"""
    rest, last = divmod(place, 26)
    return (_letter(rest - 1) if rest else "") + chr(ord("A") + last)


def _place(point: FunnelPoint, frame: Frame) -> tuple[float, float]:
    return frame.x(point.share.of), frame.y(point.share.share or 0)


def _limits(funnel: Funnel, frame: Frame) -> list[str]:
    kinds = ("", "limit", "limit", "limit outer", "limit outer")
    parts = [path("mean", f"M0 {frame.y(funnel.overall):g}H100")]
    for column in range(1, 5):
        shown = (each for each in funnel.limits if each[0] <= frame.high)
        parts.append(path(kinds[column], joined((frame.x(each[0]), frame.y(each[column])) for each in shown)))
    return parts


def _labels(funnel: Funnel, names: Mapping[str, str], frame: Frame, letter: float, kind: str) -> Iterable[str]:
    """Words at the marks, those beyond first: the name where there is room, else the letter, else nothing."""
    taken = [_around(*_place(point, frame), letter) for point in funnel.points]
    own = letters(funnel, names)
    lines = _traced(funnel, frame)
    for point in sorted(funnel.points, key=lambda point: ("99.8", "95", "").index(point.beyond)):
        at, strong = _place(point, frame), f"{kind} said" if point.beyond else kind
        for words in (names.get(point.key, point.key), own[point.key]):
            free = [*_free(words, *at, letter, taken)]
            if free:
                spot, box = next((each for each in free if not any(map(each[1].holds, lines))), free[0])
                taken.append(box)
                yield text(words, *at, dx=spot.dx, dy=spot.dy, anchor=spot.anchor, kind=strong)
                break


def _around(x: float, y: float, letter: float) -> Box:
    """The room of a mark itself."""
    aside = ASIDE * letter / NARROW
    return Box(x - aside / 1.5, y - LINE / 2, x + aside / 1.5, y + LINE / 2)


def _free(words: str, x: float, y: float, letter: float, taken: Sequence[Box]) -> Iterable[tuple[Spot, Box]]:
    """Where words would touch no mark and no other words."""
    for spot in SPOTS:
        box = _box(spot, len(words) * letter, ASIDE * letter / NARROW, x, y)
        if box.inside and not any(box.meets(other) for other in taken):
            yield spot, box


def _traced(funnel: Funnel, frame: Frame) -> list[tuple[float, float]]:
    """Places that the limits and the mean run through."""
    of_limits = [(frame.x(size), frame.y(limit)) for size, *limits in funnel.limits for limit in limits]
    return [*of_limits, *((float(x), frame.y(funnel.overall)) for x in range(101))]


def _box(spot: Spot, width: float, aside: float, x: float, y: float) -> Box:
    left = {"start": x + aside, "end": x - aside - width, "middle": x - width / 2}[spot.anchor]
    middle = y + spot.up * LINE
    return Box(left, middle - LINE / 2, left + width, middle + LINE / 2)


def _key(funnel: Funnel) -> list[str]:
    beyond = {point.beyond for point in funnel.points}
    items = [
        line_swatch("mean", f"all together {say_share(funnel.overall)}"),
        line_swatch("limit", "95 % limits"),
        line_swatch("limit outer", "99.8 % limits"),
    ]
    if "95" in beyond:
        items.append(mark_swatch("near", "beyond 95 %"))
    if "99.8" in beyond:
        items.append(mark_swatch("beyond", "beyond 99.8 %"))
    return items


def _tell(funnel: Funnel, names: Mapping[str, str]) -> str:
    said = "; ".join(_said(point, names) for point in funnel.points)
    return f"Within target, all together {say_share(funnel.overall)}: {said}."


def _said(point: FunnelPoint, names: Mapping[str, str]) -> str:
    share = point.share
    beyond = f", {point.side} the {point.beyond} % limits" if point.beyond else ""
    return f"{names.get(point.key, point.key)} {say_share(share.share or 0)} of {share.of}{beyond}"
