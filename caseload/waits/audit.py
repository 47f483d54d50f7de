"""All figures of one clock, from counted rows: what the page, its files, the report and a filed month say."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import NamedTuple

from caseload.waits.figures import Figures
from caseload.waits.rows import Period, Row
from caseload.waits.terms import Clock


class Window(NamedTuple):
    """`number` alike waits for stitches to be out, with their window; `stopped_on` is None while they are in."""

    earliest_on: date
    target_on: date
    due_on: date
    stopped_on: date | None
    ended: str
    number: int = 1


class Cut(NamedTuple):
    """The stretches that a trend is cut into, in order; the last ends with the period that is asked about."""

    stretches: tuple[Period, ...]


def figures(
    clock: Clock,
    period: Period,
    rows: Sequence[Row],
    cut: Cut,
    groups: Mapping[str, Mapping[str, Sequence[Row]]],
    windows: Sequence[Window] = (),
    *,
    shown_from: Mapping[str, int],
) -> Figures:
    """`rows` are all waits that overlap the period, the one before it or the trend; `groups` those that overlap the
    period, by dimension and key. `shown_from` is the least number behind each funnel point of a dimension."""
    raise NotImplementedError
