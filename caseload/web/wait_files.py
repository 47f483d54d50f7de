"""The figures of a clock as one long table: everything that the page shows, one figure in a row, with its method."""

from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from django.http import HttpRequest, HttpResponse

from caseload.parsing import Priority
from caseload.reads.names import names
from caseload.reads.waits import Asked
from caseload.timetable.terms import Suture
from caseload.waits.figures import (
    Compared,
    Day,
    Figures,
    Flow,
    Funnel,
    Group,
    Groups,
    Share,
    Slippage,
    Step,
    Summary,
    Trend,
)
from caseload.waits.rows import Period
from caseload.waits.terms import End, Signal
from caseload.web.exports import as_file
from caseload.wording import label

COUNTED: Final = "counted"
HEADERS: Final = (
    "Figure", "Of", "First day", "Last day", "Group", "Day of the wait", "Value", "Lower", "Upper", "Number",
    "Of how many", "Signal", "Method",
)  # fmt: skip
SIGNALS: Final = {
    "": "",
    Signal.BEYOND: "beyond the limits",
    Signal.RUN: "the eighth in a row or later on one side of the mean",
}
NAMED: Final = {"suture": Suture, "priority": Priority}


class Cell(NamedTuple):
    """One row of the file. Shares are between 0 and 1, days are days of the wait; None is left empty."""

    figure: str
    of: str = ""
    period: Period | None = None
    group: str = ""
    day: int | None = None
    value: float | None = None
    lower: float | None = None
    upper: float | None = None
    number: int | None = None
    of_how_many: int | None = None
    signal: str = ""
    method: str = COUNTED

    def row(self) -> list[Any]:
        first, last = self.period or (None, None)
        return [self.figure, self.of, first, last, *self[3:]]


class Told:
    """What every row of one clock says: the clock, the methods and the names of groups."""

    def __init__(self, figures: Figures, named: Mapping[str, str]) -> None:
        self.figures, self.named = figures, named
        self.of = label(figures.clock)

    def cell(self, figure: str, period: Period, method: str = COUNTED, **said: Any) -> Cell:
        return Cell(figure, self.of, period, method=self.figures.methods.get(method, method), **said)

    def group(self, dimension: str, key: str) -> str:
        if dimension in NAMED and key:
            return label(NAMED[dimension](key))
        return self.named.get(key, key) or "not known"


def figures_file(request: HttpRequest, asked: Asked, figures: Figures) -> HttpResponse:
    """What the page shows as a file, CSV or XLSX; that it was taken away is recorded."""
    everybody = names()
    named = {each.code: each.name for each in (*everybody.sites, *everybody.therapists)}
    return as_file(request, f"waits-{asked.clock}", HEADERS, [cell.row() for cell in cells(figures, named)])


def cells(figures: Figures, named: Mapping[str, str]) -> Iterator[Cell]:
    """Everything that is said of one clock, in the order of the page."""
    told = Told(figures, named)
    for summary in (figures.now, figures.before):
        yield from _summary(told, summary)
    if figures.change:
        yield from _compared(told, figures.now.period, "this period against the one before it", figures.change)
    if figures.trend:
        yield from _trend(told, figures.trend)
    yield from _flow(told, figures.flow)
    for dimension, groups in figures.groups.items():
        yield from _groups(told, dimension, groups)
    if figures.slippage:
        yield from _slippage(told, figures.slippage)


def _summary(told: Told, summary: Summary) -> Iterator[Cell]:
    period = summary.period
    counts = {
        "waits": summary.waits, "waiting at the start": summary.at_start, "began": summary.began, "seen": summary.seen,
        **{_ended(word): number for word, number in summary.competing.items()}, "waiting at the end": summary.waiting,
    }  # fmt: skip
    for figure, number in counts.items():
        yield told.cell(figure, period, number=number)
    yield _centile(told, period, "median", summary.median)
    yield _centile(told, period, "92nd centile", summary.centile_92)
    yield told.cell("restricted mean", period, "restricted_mean", value=summary.restricted_mean)
    yield told.cell("median of those seen only", period, "completed", value=summary.completed_median)
    yield told.cell("92nd centile of those seen only", period, "completed", value=summary.completed_92)
    yield from _share(told, period, "within target, of those whose target day fell in it", summary.within)
    yield from _share(told, period, "within target, of those seen only", summary.within_completed)
    yield from (_step(told, period, step) for step in summary.curve)
    yield from (told.cell("watched on a day", period, day=day, number=number) for day, number in summary.at_risk)
    for word, reached in summary.incidence.items():
        for each in reached:
            yield told.cell("ended by a day", period, "incidence", group=_end(word), day=each.day, value=each.value)


def _ended(word: str) -> str:
    return f"ended otherwise: {_end(word)}"


def _end(word: str) -> str:
    return label(End(word))


def _centile(told: Told, period: Period, figure: str, day: Day, group: str = "") -> Cell:
    limits = {"value": day.day, "lower": day.lower, "upper": day.upper}
    return told.cell(figure, period, "centile", group=group, **limits)


def _share(told: Told, period: Period, figure: str, share: Share | None) -> Iterator[Cell]:
    if share:
        limits = {"value": share.share, "lower": share.lower, "upper": share.upper}
        yield told.cell(figure, period, "share", **limits, number=share.number, of_how_many=share.of)


def _step(told: Told, period: Period, step: Step) -> Cell:
    limits = {"value": step.still_waiting, "lower": step.lower, "upper": step.upper}
    counts = {"number": step.seen, "of_how_many": step.at_risk}
    return told.cell("share still waiting after a day; seen on it, of those watched", period, "curve", day=step.day,
                     **limits, **counts)  # fmt: skip


def _compared(told: Told, period: Period, what: str, compared: Compared, dimension: str = "") -> Iterator[Cell]:
    method = "compared"
    yield told.cell(f"chi-square, {what}", period, method, value=compared.chi_square, number=compared.degrees)
    yield told.cell(f"chance of as large a difference if all wait alike, {what}", period, method, value=compared.p)
    for key, seen in compared.observed.items():
        group = told.group(dimension, key)
        expected = compared.expected.get(key)
        yield told.cell(f"seen, and expected if all wait alike, {what}", period, method, group=group, number=seen,
                        value=expected)  # fmt: skip


def _trend(told: Told, trend: Trend) -> Iterator[Cell]:
    for point in trend.points:
        limits = {"value": point.share, "lower": point.lower, "upper": point.upper}
        yield told.cell("trend: within target", point.period, "trend", **limits, number=point.number,
                        of_how_many=point.of, signal=SIGNALS[point.signal])  # fmt: skip
    if trend.points:
        whole = Period(trend.points[0].period.first, trend.points[-1].period.last)
        yield told.cell("trend: within target, all of them", whole, "trend", value=trend.mean)


def _flow(told: Told, flow: Flow) -> Iterator[Cell]:
    for point in flow.points:
        limits = {"value": flow.mean, "lower": flow.lower, "upper": flow.upper}
        yield told.cell("flow: began", point.period, number=point.began)
        yield told.cell("flow: seen, around the mean", point.period, "flow", **limits, number=point.seen,
                        signal=SIGNALS[point.signal])  # fmt: skip
        yield told.cell("flow: waiting at the end", point.period, number=point.waiting)


def _groups(told: Told, dimension: str, groups: Groups) -> Iterator[Cell]:
    period = told.figures.now.period
    for group in groups.groups:
        yield from _group(told, period, dimension, group)
    if groups.compared:
        yield from _compared(told, period, f"by {dimension}", groups.compared, dimension)
    if groups.funnel:
        yield from _funnel(told, period, dimension, groups.funnel)


def _group(told: Told, period: Period, dimension: str, group: Group) -> Iterator[Cell]:
    name = told.group(dimension, group.key)
    counts = {"waits": group.waits, "seen": group.seen, "waiting at the end": group.waiting}
    for figure, number in counts.items():
        yield told.cell(f"{figure}, by {dimension}", period, group=name, number=number)
    yield _centile(told, period, f"median, by {dimension}", group.median, name)
    yield _centile(told, period, f"92nd centile, by {dimension}", group.centile_92, name)


def _funnel(told: Told, period: Period, dimension: str, funnel: Funnel) -> Iterator[Cell]:
    method, figure = "funnel", f"within target, by {dimension}"
    yield told.cell(f"{figure}, all of them", period, method, value=funnel.overall)
    yield told.cell(f"{figure}, dispersion", period, "chi-square over its degrees of freedom", value=funnel.dispersion)
    for point in funnel.points:
        name, share = told.group(dimension, point.key), point.share
        said = {"group": name, "value": share.share, "number": share.number, "of_how_many": share.of}
        signal = f"{point.side} the limits of {point.beyond} %" if point.beyond else ""
        for width, lower, upper in (("95", point.lower_95, point.upper_95), ("99.8", point.lower_998, point.upper_998)):
            yield told.cell(f"{figure}, limits of {width} %", period, method, **said, lower=lower, upper=upper,
                            signal=signal)  # fmt: skip
    for key, number in funnel.left_out.items():
        yield told.cell(
            f"{figure}, too few to be shown", period, method, group=told.group(dimension, key), number=number
        )


SLIPPAGE: Final = {
    "early": "out before the window", "inside": "out inside the window", "late": "out after the window",
    "overdue": "still in after the window", "ahead": "still in, window not over", "ended_otherwise": "ended otherwise",
}  # fmt: skip


def _slippage(told: Told, slippage: Slippage) -> Iterator[Cell]:
    period = told.figures.now.period
    for field, figure in SLIPPAGE.items():
        yield told.cell(f"stitches {figure}", period, number=getattr(slippage, field))
    for day, number in slippage.by_day:
        yield told.cell("stitches out by days from the target", period, day=day, number=number)
