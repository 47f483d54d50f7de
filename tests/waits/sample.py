"""Invented figures of one clock, for charts and pages: they add up, but nobody waited like this."""

from datetime import date, timedelta
from math import exp, log, sqrt
from typing import Any

from caseload.waits.figures import (
    Compared,
    Day,
    Figures,
    Flow,
    FlowPoint,
    Funnel,
    FunnelPoint,
    Group,
    Groups,
    Reached,
    Share,
    Slippage,
    Step,
    Summary,
    Tail,
    Trend,
    TrendPoint,
)
from caseload.waits.rows import Period
from caseload.waits.terms import TOO_FEW, Clock, Signal

MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
FEBRUARY = Period(date(2026, 2, 1), date(2026, 2, 28))
NOT_REACHED = Day(None, None, None)
SEEN_NOW = {3: 4, 6: 5, 9: 6, 12: 7, 14: 6, 17: 5, 19: 5, 22: 4, 26: 4, 31: 3, 38: 3, 44: 2, 51: 4}
SEEN_BEFORE = {3: 6, 6: 7, 9: 8, 12: 8, 15: 6, 18: 4, 22: 3, 28: 2, 33: 2, 36: 2, 41: 3}


def curve(at_risk: int = 84, seen_by_day: dict[int, int] = SEEN_NOW) -> tuple[Step, ...]:
    """The product-limit curve, with Greenwood's error and log-log limits; after each day two others leave unseen."""
    steps, left, still, spread = [Step(0, at_risk, 0, 1.0, 0.0, 1.0, 1.0)], at_risk, 1.0, 0.0
    for day, seen in seen_by_day.items():
        still *= 1 - seen / left
        spread += seen / (left * (left - seen))
        width = 1.96 * sqrt(spread) / log(still)
        low, high = still ** exp(-width), still ** exp(width)
        steps.append(Step(day, left, seen, still, still * sqrt(spread), low, high))
        left -= seen + 2
    return tuple(steps)


def summary(**own: Any) -> Summary:
    """A month of 84 waits, of whom 58 were seen."""
    values: dict[str, Any] = {
        "period": MARCH, "at_start": 40, "began": 44, "seen": 58, "waiting": 22, "refused": "",
        "competing": {"declined": 3, "discharged-unseen": 1}, "curve": curve(), "median": Day(22, 17, 26),
        "centile_92": Day(51, 51, None), "restricted_mean": 23.6, "completed_median": 13.0, "completed_92": 30.4,
        "incidence": {
            "seen": (Reached(3, 0.05), Reached(9, 0.18), Reached(14, 0.36), Reached(26, 0.56), Reached(44, 0.7)),
            "declined": (Reached(8, 0.02), Reached(21, 0.05)), "discharged-unseen": (Reached(30, 0.02),),
        },
        "within": Share(21, 46, 0.4565, 0.3219, 0.5982), "within_completed": Share(40, 58, 0.6897, 0.5620, 0.7946),
        "tail": Tail(55, 52, None, None), "at_risk": ((0, 84), (14, 54), (28, 22), (42, 10)),
        "left": ((4, 2), (7, 2), (13, 3), (20, 4), (25, 2), (33, 3), (40, 3), (46, 1), (55, 6)),
    }  # fmt: skip
    return Summary(**(values | own))


def before(**own: Any) -> Summary:
    """The month before: shorter waits in truth, longer ones by the completed only."""
    values: dict[str, Any] = {
        "period": FEBRUARY, "at_start": 34, "began": 38, "seen": 51, "competing": {"declined": 2}, "waiting": 19,
        "median": Day(15, 12, 22), "centile_92": Day(41, 41, None), "completed_median": 16.0, "completed_92": 34.0,
        "within": Share(24, 38, 0.6316, 0.4733, 0.7665), "within_completed": Share(26, 51, 0.5098, 0.3768, 0.6414),
        "curve": curve(72, SEEN_BEFORE),
    }  # fmt: skip
    return summary(**(values | own))


def few(**own: Any) -> Summary:
    """Three people: their numbers and no curve."""
    values: dict[str, Any] = {
        "at_start": 2, "began": 1, "seen": 2, "competing": {}, "waiting": 1, "refused": TOO_FEW, "curve": (),
        "median": NOT_REACHED, "centile_92": NOT_REACHED, "restricted_mean": None, "incidence": {},
        "completed_median": 9.0, "completed_92": 12.2, "within": Share(1, 1, 1.0, 0.2065, 1.0),
        "within_completed": Share(2, 2, 1.0, 0.3424, 1.0), "tail": None, "at_risk": (),
    }  # fmt: skip
    return summary(**(values | own))


def weeks(first: date = date(2026, 1, 5), number: int = 12) -> list[Period]:
    mondays = [first + timedelta(days=7 * week) for week in range(number)]
    return [Period(monday, monday + timedelta(days=6)) for monday in mondays]


def trend() -> Trend:
    """Twelve weeks: one of nothing due, one beyond the limits, the last of a run of eight."""
    within = (9, 8, 10, 0, 7, 8, 6, 6, 5, 5, 2, 4)
    of = (11, 12, 13, 0, 12, 12, 11, 12, 11, 12, 13, 10)
    signals = {10: Signal.BEYOND, 11: Signal.RUN}
    points = (
        TrendPoint(week, n, m, n / m if m else None, 0.23, 0.97, signals.get(place, ""))
        for place, (week, n, m) in enumerate(zip(weeks(), within, of, strict=True))
    )
    return Trend(tuple(points), 0.6)


def flow() -> Flow:
    seen, waiting = (11, 12, 9, 13, 10, 12, 11, 12, 14, 12, 5, 11), range(20, 32)
    points = (
        FlowPoint(week, 12, n, left, Signal.BEYOND if n == 5 else "")
        for week, n, left in zip(weeks(), seen, waiting, strict=True)
    )
    return Flow(tuple(points), 11.0, 5.7, 16.3, 2.0)


def funnel() -> Funnel:
    limits = (
        (10, 0.1, 0.9, 0.0, 1.0), (20, 0.25, 0.7, 0.15, 0.8), (40, 0.3, 0.63, 0.22, 0.7), (60, 0.34, 0.6, 0.27, 0.66),
    )  # fmt: skip
    points = (
        FunnelPoint("fernhollow", Share(14, 44, 0.3182, 0.2, 0.4656), 0.3, 0.62, 0.22, 0.7, "", ""),
        FunnelPoint("quay-street", Share(16, 20, 0.8, 0.584, 0.9193), 0.25, 0.7, 0.15, 0.8, "99.8", "above"),
    )
    return Funnel(points, 0.46, limits, {"mill-lane": 3}, 2.4)


def groups() -> Groups:
    """Two sites that differ by more than chance, and one too small for a curve."""
    those = (
        Group("fernhollow", 50, 30, 18, "", Day(22, 18, 27), NOT_REACHED),
        Group("mill-lane", 3, 2, 1, TOO_FEW, NOT_REACHED, NOT_REACHED),
        Group("quay-street", 31, 22, 7, "", Day(12, 9, 15), Day(30, 24, None)),
    )
    observed = {"fernhollow": 30, "mill-lane": 2, "quay-street": 22}
    compared = Compared(9.1, 1, 0.0026, observed, {"fernhollow": 38.2, "mill-lane": 1.6, "quay-street": 14.2})
    return Groups(those, compared, funnel())


def slippage() -> Slippage:
    return Slippage(
        2,
        30,
        6,
        4,
        3,
        1,
        ((-4, 1), (-3, 1), (-1, 6), (0, 14), (1, 7), (2, 3), (4, 4), (9, 2)),
        ((-4, 1), (-3, 1), (4, 4), (9, 2)),
        ((-2, 2),),
    )


def figures(clock: Clock = Clock.FIRST_VISIT, **own: Any) -> Figures:
    """A month in which the completed only say better and the truth says worse."""
    values: dict[str, Any] = {
        "now": summary(), "before": before(), "change": Compared(6.3, 1, 0.012, {}, {}), "trend": trend(),
        "flow": flow(), "groups": {"site": groups()}, "slippage": None,
    }  # fmt: skip
    return Figures(clock, **(values | own))
