"""Within target: of whom, week by week, and group by group.

The truthful share asks everybody whose target day fell in a period, whether they were seen by then or wait on. The one
that misleads asks only those who were seen. Within means on the target day or before it.
"""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from caseload.waits.control import Limits, shares, signals
from caseload.waits.figures import Funnel, FunnelPoint, Share, Trend, TrendPoint
from caseload.waits.proportion import band, chance, dispersion, wilson
from caseload.waits.rows import SEEN, Chosen, Columns, Period
from caseload.waits.terms import Side

DRAWN: Final = 60
"""The limits of a funnel are drawn through so many sizes."""
BEYOND_95: Final = 0.025
BEYOND_998: Final = 0.001
"""The chance on one side, so that 95 % and 99.8 % lie between."""


def fell_due(all_of: Columns, period: Period) -> Chosen:
    """Whose target day fell in the period: seen, before it or later, or waiting. Not those who had ended otherwise
    before it, nor those who came to us after it."""
    first, last = period.ordinals
    gone = (all_of.ended > SEEN) & (all_of.stopped < all_of.due)
    ours = all_of.came <= np.minimum(all_of.stopped, all_of.due)
    found: Chosen = (all_of.due >= first) & (all_of.due <= last) & ours & ~gone
    return found


def seen_in(all_of: Columns, period: Period) -> Chosen:
    """Who was seen in the period, by us."""
    first, last = period.ordinals
    seen = (all_of.ended == SEEN) & (all_of.stopped >= all_of.came)
    found: Chosen = seen & (all_of.stopped >= first) & (all_of.stopped <= last)
    return found


def within(all_of: Columns, those: Chosen) -> tuple[int, int]:
    """How many of those were seen on the target day or before it, of how many."""
    kept = those & (all_of.ended == SEEN) & (all_of.stopped <= all_of.due)
    return int(all_of.number[kept].sum()), int(all_of.number[those].sum())


def within_due(all_of: Columns, period: Period) -> Share:
    return wilson(*within(all_of, fell_due(all_of, period)))


def within_completed(all_of: Columns, period: Period) -> Share:
    return wilson(*within(all_of, seen_in(all_of, period)))


def trend(all_of: Columns, stretches: Sequence[Period]) -> Trend:
    counted = [within(all_of, fell_due(all_of, stretch)) for stretch in stretches]
    chart = shares(counted)
    values = [number / of if of else None for number, of in counted]
    found = signals(values, chart.mean, chart.limits)
    points = [
        TrendPoint(stretch, number, of, value, *(limits or Limits(0.0, 1.0)), said or "")
        for stretch, (number, of), value, limits, said in zip(
            stretches, counted, values, chart.limits, found, strict=True
        )
    ]
    return Trend(tuple(points), chart.mean)


def funnel(counted: Mapping[str, tuple[int, int]], shown_from: int) -> Funnel | None:
    """Groups as (within, of) by key around the share of all of them; None where nothing fell due.

    Those with fewer than `shown_from` count in the share of all, and are not shown by themselves.
    """
    total = sum(of for _, of in counted.values())
    if total == 0:
        return None
    overall = sum(number for number, _ in counted.values()) / total
    shown = {key: counted[key] for key in sorted(counted) if counted[key][1] >= max(1, shown_from)}
    return Funnel(
        points=tuple(_point(key, *shown[key], overall) for key in shown),
        overall=overall,
        limits=_drawn(max((of for _, of in shown.values()), default=0), overall),
        left_out={key: counted[key][1] for key in sorted(counted) if key not in shown},
        dispersion=dispersion(list(shown.values()), overall),
    )


def _point(key: str, number: int, of: int, overall: float) -> FunnelPoint:
    """Beyond by exact chance: the line that is drawn is interpolated, and of few people it lies too near."""
    beyond = _beyond(chance(number, of, overall))
    side = (Side.ABOVE if number > of * overall else Side.BELOW) if beyond else ""
    return FunnelPoint(key, wilson(number, of), *band(of, overall), beyond, side)


def _beyond(by_chance: float) -> str:
    if by_chance < BEYOND_998:
        return "99.8"
    return "95" if by_chance < BEYOND_95 else ""


def _drawn(largest: int, overall: float) -> tuple[tuple[int, float, float, float, float], ...]:
    """Sizes from 1 to a tenth above the largest group, closer together where the limits bend."""
    if largest == 0:
        return ()
    sizes = np.unique(np.geomspace(1, max(2, largest * 1.1), DRAWN).astype(np.int64)).tolist()
    return tuple((size, *band(size, overall)) for size in sizes)
