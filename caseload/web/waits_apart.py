"""What stands out among waits as values for their page: trend and flow, groups beside each other, stitches and their
window."""

from typing import Any, Final, NamedTuple

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from caseload.waits.figures import Day, Figures, Flow, FlowPoint, Group, Groups, Share, Slippage, Trend, TrendPoint
from caseload.waits.terms import Behind, Clock
from caseload.web import wait_charts
from caseload.web.waits_page import Links
from caseload.wording import waits as say
from caseload.wording import waits_apart as apart

FIELDS: Final = {
    "early": Behind.EARLY, "inside": Behind.INSIDE, "late": Behind.LATE, "overdue": Behind.OVERDUE,
    "ahead": Behind.AHEAD, "ended_otherwise": Behind.ENDED_OTHERWISE,
}  # fmt: skip


class Point(NamedTuple):
    """One week or month."""

    name: str
    numbers: list[SafeString | str]
    signal: str


class Row(NamedTuple):
    """One group; what cannot be said of it is a dash. `letter` stands for it in the funnel where no name fits."""

    name: str
    waits: SafeString
    seen: SafeString
    expected: str
    waiting: SafeString
    median: tuple[str, str]
    centile_92: tuple[str, str]
    within: str
    within_of: SafeString | str
    letter: str = ""


class Part(NamedTuple):
    """One dimension."""

    dimension: str
    head: str
    rows: list[Row]
    compared: str
    rest: str
    funnel: SafeString | None
    beyond: list[str]


class Stretches(NamedTuple):
    """A chart of weeks or months, what stands out in it, and the same in numbers."""

    chart: SafeString
    says: list[str]
    heads: list[str]
    rows: list[Point]


class Window(NamedTuple):
    """Stitches against their window."""

    chart: SafeString
    rows: list[tuple[str, SafeString]]
    by_day: list[tuple[str, int]]


def values(figures: Figures, links: Links) -> dict[str, Any]:
    """What these parts of the page are filled with; None where there is nothing to show. One group alone differs from
    nobody."""
    waits = figures.now.at_start + figures.now.began
    return {
        "trend": figures.trend and _trend(figures.trend, links),
        "flow": _flow(figures.flow, figures.clock, links),
        "parts": [
            _part(name, groups, waits, links) for name, groups in figures.groups.items() if len(groups.groups) > 1
        ],
        "slippage": figures.slippage and _slippage(figures.slippage, links),
    }


def _trend(trend: Trend, links: Links) -> Stretches:
    rows = [_due(point, trend, links) for point in trend.points]
    return Stretches(wait_charts.trend_chart(trend), apart.say_trend(trend), apart.say_heads_of_trend(), rows)


def _due(point: TrendPoint, trend: Trend, links: Links) -> Point:
    name = apart.say_stretch(point.period)
    number = links.to(point.number, Behind.WITHIN, period=point.period)
    of = links.to(point.of, Behind.DUE, period=point.period)
    limits = say.say_range(point.lower, point.upper) if point.of else say.NOT_SAID
    signal = apart.say_signal(point.signal, point.share, trend.mean)
    return Point(name, [number, of, say.say_share(point.share), limits], signal)


def _flow(flow: Flow, clock: Clock, links: Links) -> Stretches:
    rows = [_seen(point, flow, links) for point in flow.points]
    return Stretches(
        wait_charts.flow_chart(flow, str(say.SEEN[clock])),
        apart.say_flow(flow, clock),
        apart.say_heads_of_flow(clock),
        rows,
    )


def _seen(point: FlowPoint, flow: Flow, links: Links) -> Point:
    name = apart.say_stretch(point.period)
    counted = ((point.began, Behind.BEGAN), (point.seen, Behind.SEEN), (point.waiting, Behind.WAITING))
    numbers: list[SafeString | str] = [links.to(number, which, period=point.period) for number, which in counted]
    return Point(name, numbers, apart.say_signal(point.signal, point.seen, flow.mean))


def _part(dimension: str, groups: Groups, waits: int, links: Links) -> Part:
    """Its rows in the order of their names, so that nobody is ranked; `waits` are those of all groups."""
    funnel = groups.funnel
    keys = {group.key for group in groups.groups} | set(funnel.left_out if funnel else ())
    keys |= {point.key for point in funnel.points} if funnel else set()
    said = {key: apart.say_group(dimension, key, links.named) for key in keys}
    letters = wait_charts.letters(funnel, said) if funnel else {}
    rows = [
        _row(dimension, group, groups, said[group.key], links)._replace(letter=letters.get(group.key, ""))
        for group in groups.groups
    ]
    return Part(
        dimension,
        str(apart.HEADS[dimension]),
        sorted(rows, key=lambda row: row.name.casefold()),
        apart.say_compared(dimension, groups.compared),
        apart.say_rest(dimension, waits - sum(group.waits for group in groups.groups)),
        wait_charts.funnel_chart(funnel, said) if funnel and funnel.points else None,
        apart.say_funnel(funnel, said) if funnel else [],
    )


def _row(dimension: str, group: Group, groups: Groups, name: str, links: Links) -> Row:

    def linked(number: int, which: Behind) -> SafeString:
        return links.to(number, which, group=f"{dimension}:{group.key}")

    expected = groups.compared.expected.get(group.key) if groups.compared and not group.refused else None
    share = _within(group.key, groups)
    return Row(
        name,
        linked(group.waits, Behind.ALL),
        linked(group.seen, Behind.SEEN),
        say.say_number(expected),
        linked(group.waiting, Behind.WAITING),
        _day(group, group.median),
        _day(group, group.centile_92),
        say.say_share(share.share) if share else say.NOT_SAID,
        _of(linked(share.number, Behind.WITHIN), linked(share.of, Behind.DUE)) if share else "",
    )


def _of(number: SafeString, of: SafeString) -> SafeString:
    return format_html(_("{} of {}"), number, of)


def _within(key: str, groups: Groups) -> Share | None:
    points = groups.funnel.points if groups.funnel else ()
    return next((point.share for point in points if point.key == key), None)


def _day(group: Group, day: Day) -> tuple[str, str]:
    """A day and its limits; dashes where the group has too few waits."""
    if group.refused:
        return say.NOT_SAID, ""
    return say.say_day(day), "" if day.lower is None else say.say_day_limits(day)


def _slippage(slippage: Slippage, links: Links) -> Window:
    rows = [(str(apart.SLIPPED[field]), links.to(getattr(slippage, field), which)) for field, which in FIELDS.items()]
    by_day = [(apart.say_from_target(day), number) for day, number in slippage.by_day]
    return Window(wait_charts.slippage_chart(slippage), rows, by_day)
