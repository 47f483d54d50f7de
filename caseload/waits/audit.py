"""All figures of one clock, from counted rows: what the page, its files, the report and a filed month say."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final, NamedTuple

import numpy as np

from caseload.waits import compare, competing, control, proportion, survival
from caseload.waits.figures import NO_DAY, Compared, Figures, Flow, FlowPoint, Group, Groups, Slippage, Summary
from caseload.waits.rows import NO_TARGET, SEEN, Columns, Counts, Period, Row, Waits, columns, counts, watched
from caseload.waits.targets import fell_due, funnel, trend, within, within_completed, within_due
from caseload.waits.terms import FEWEST, TOO_FEW, Clock, End

TARGETED: Final = frozenset(Clock) - {Clock.OFFERED}
"""The clocks that may have a target; the offer of an appointment has none."""
METHODS: Final = {
    "curve": survival.METHOD,
    "centile": survival.METHOD_CENTILE,
    "restricted_mean": survival.METHOD_MEAN,
    "incidence": competing.METHOD,
    "compared": compare.METHOD,
    "completed": proportion.METHOD_QUANTILE,
    "share": proportion.METHOD,
    "trend": control.METHOD_SHARES,
    "flow": control.METHOD_INDIVIDUALS,
    "funnel": proportion.METHOD_FUNNEL,
}
OUT: Final = ("early", "inside", "late")
HOW: Final = (*OUT, "overdue", "ahead", "ended_otherwise")
"""The fields of `Slippage` that each wait counts in one of."""


class Window(NamedTuple):
    """`number` alike waits for stitches to be out, with their window; `stopped_on` is None while they are in."""

    earliest_on: date
    target_on: date
    due_on: date
    stopped_on: date | None
    ended: str
    number: int = 1


Listed = Sequence[Row] | Columns
"""Rows, or what `rows.columns` made of them: making it once, and `rows.chosen` for each group, is quicker."""


def figures(
    clock: Clock,
    period: Period,
    rows: Listed,
    stretches: Sequence[Period],
    groups: Mapping[str, Mapping[str, Listed]],
    windows: Sequence[Window] = (),
    *,
    shown_from: Mapping[str, int],
) -> Figures:
    """`rows` are all waits that overlap the period, the one before it or the trend, and those whose target day lies in
    one of them though they had been seen before it began; `groups` are those of the period, by dimension and key. A
    trend is cut into `stretches`, in order, of which the last ends with the period.

    `shown_from` is the least number behind each group of a dimension; the dimensions that it names have a funnel.
    """
    all_of = _columns(rows)
    targeted = clock in TARGETED and _has_target(all_of)
    now, before = (_summary(all_of, each, targeted) for each in (period, period.before))
    return Figures(
        clock=clock,
        now=now,
        before=before,
        change=_change(all_of, period, now, before),
        trend=trend(all_of, stretches) if targeted else None,
        flow=_flow(all_of, stretches),
        groups={
            name: _groups(
                {key: _columns(those) for key, those in by_key.items()}, period, shown_from.get(name), targeted
            )
            for name, by_key in groups.items()
        },
        slippage=_slippage(windows, period) if windows else None,
        methods=METHODS,
    )


def _columns(listed: Listed) -> Columns:
    return listed if isinstance(listed, Columns) else columns(listed)


def _has_target(all_of: Columns) -> bool:
    """Targets are settings: where none is set, no wait has one."""
    return bool(np.any(all_of.due != NO_TARGET)) or all_of.due.size == 0


def _summary(all_of: Columns, period: Period, targeted: bool) -> Summary:
    counted, waits = counts(all_of, period), watched(all_of, period)
    bare = Summary(
        period,
        *counted,
        refused=TOO_FEW,
        curve=(),
        median=NO_DAY,
        centile_92=NO_DAY,
        restricted_mean=None,
        incidence={},
        completed_median=None,
        completed_92=None,
        within=within_due(all_of, period) if targeted else None,
        within_completed=within_completed(all_of, period) if targeted else None,
    )
    return bare if bare.waits < FEWEST else _with_curve(bare, waits)


def _with_curve(bare: Summary, waits: Waits) -> Summary:
    by_day, seen = survival.tally(waits), waits.ended == SEEN
    curve = survival.kaplan_meier(by_day)
    return bare._replace(
        refused="",
        curve=survival.steps(curve),
        median=survival.centile(curve, survival.MEDIAN),
        centile_92=survival.centile(curve, survival.NINETY_SECOND),
        restricted_mean=survival.restricted_mean(curve),
        incidence=competing.incidence(competing.aalen_johansen(by_day)),
        completed_median=proportion.quantile(waits.days[seen], waits.number[seen], survival.MEDIAN),
        completed_92=proportion.quantile(waits.days[seen], waits.number[seen], survival.NINETY_SECOND),
        tail=survival.tail(curve),
        at_risk=survival.at_risk_on(curve, survival.regular_days(curve.last_day)),
        left=survival.left_unseen(by_day),
    )


def _change(all_of: Columns, period: Period, now: Summary, before: Summary) -> Compared | None:
    """Whoever waits across both is watched in each on other days, so that nothing is counted twice."""
    if now.refused or before.refused:
        return None
    return compare.log_rank(
        {name: survival.tally(watched(all_of, each.period)) for name, each in (("before", before), ("now", now))}
    )


def _flow(all_of: Columns, stretches: Sequence[Period]) -> Flow:
    counted = [counts(all_of, stretch) for stretch in stretches]
    chart = control.individuals([each.seen for each in counted])
    found = control.signals([each.seen for each in counted], chart.mean, [chart.limits] * len(counted))
    points = [
        FlowPoint(stretch, each.began, each.seen, each.waiting, said or "")
        for stretch, each, said in zip(stretches, counted, found, strict=True)
    ]
    lower, upper = (max(0.0, chart.limits.lower), chart.limits.upper) if chart.limits else (None, None)
    return Flow(tuple(points), chart.mean, lower, upper, chart.mean_range)


def _groups(by_key: Mapping[str, Columns], period: Period, shown_from: int | None, targeted: bool) -> Groups:
    counted = {key: counts(by_key[key], period) for key in sorted(by_key)}
    shown = {key: found for key, found in counted.items() if _waits(found) >= (shown_from or 1)}
    enough = {
        key: survival.tally(watched(by_key[key], period)) for key, found in shown.items() if _waits(found) >= FEWEST
    }
    due = {key: within(those, fell_due(those, period)) for key, those in by_key.items()}
    return Groups(
        groups=tuple(_group(key, found, enough.get(key)) for key, found in shown.items()),
        compared=compare.log_rank(enough) if len(enough) > 1 else None,
        funnel=None if shown_from is None or not targeted else funnel(due, shown_from),
    )


def _waits(counted: Counts) -> int:
    return counted.at_start + counted.began


def _group(key: str, counted: Counts, by_day: survival.ByDay | None) -> Group:
    numbers = (key, _waits(counted), counted.seen, counted.waiting)
    if by_day is None:
        return Group(*numbers, TOO_FEW, NO_DAY, NO_DAY)
    curve = survival.kaplan_meier(by_day)
    return Group(*numbers, "", *(survival.centile(curve, seen) for seen in (survival.MEDIAN, survival.NINETY_SECOND)))


def _slippage(windows: Sequence[Window], period: Period) -> Slippage:
    """As they stood at the end of the period: stitches that came out later were still in."""
    due = [each for each in windows if period.first <= each.target_on <= period.last]
    how: Counter[str] = Counter()
    by_day: Counter[int] = Counter()
    outside: Counter[int] = Counter()
    for each in due:
        stood = _how(each, period.last)
        how[stood] += each.number
        if each.stopped_on and stood in OUT:
            days = (each.stopped_on - each.target_on).days
            by_day[days] += each.number
            outside[days] += each.number * (stood != "inside")
    spans = {((each.earliest_on - each.target_on).days, (each.due_on - each.target_on).days) for each in due}
    return Slippage(
        **{name: how[name] for name in HOW},
        by_day=tuple(sorted(by_day.items())),
        outside=tuple(sorted((+outside).items())),
        windows=tuple(sorted(spans)),
    )


def _how(window: Window, last: date) -> str:
    """In which field of `Slippage` it counts."""
    if window.stopped_on is None or window.stopped_on > last:
        return "overdue" if window.due_on < last else "ahead"
    if window.ended != End.SEEN:
        return "ended_otherwise"
    if window.stopped_on < window.earliest_on:
        return "early"
    return "inside" if window.stopped_on <= window.due_on else "late"
