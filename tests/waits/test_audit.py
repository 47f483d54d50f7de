"""All figures of one clock: that they hang together, and that each is what its own module says."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from caseload.waits import compare, survival
from caseload.waits.audit import HOW, METHODS, OUT, Window, figures
from caseload.waits.bodies import read, write
from caseload.waits.control import individuals
from caseload.waits.figures import NO_DAY, Figures, Slippage
from caseload.waits.rows import Period, Row, columns, counts, watched
from caseload.waits.terms import Clock
from tests.waits.test_targets import invented, weeks

MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
ROWS = invented(7, 400)
BY_SITE = {"F1": ROWS[:250], "Q2": ROWS[250:397], "Z3": ROWS[397:398]}


def asked(rows: Sequence[Row] = ROWS, clock: Clock = Clock.FIRST_VISIT, **more: Any) -> Figures:
    known: dict[str, Any] = {"stretches": tuple(weeks(12)), "groups": {}, "shown_from": {}} | more
    return figures(clock, MARCH, rows, **known)


def test_what_was_there_and_came_ended_or_waits() -> None:
    now = asked().now
    assert now.waits == now.seen + sum(now.competing.values()) + now.waiting > 100
    assert now.refused == "" and now.period == MARCH and asked().before.period == MARCH.before


def test_the_curve_is_that_of_everybody_watched_in_the_period() -> None:
    curve = survival.kaplan_meier(survival.tally(watched(columns(ROWS), MARCH)))
    now = asked().now
    assert now.curve == survival.steps(curve) and now.restricted_mean == survival.restricted_mean(curve)
    assert (now.median, now.centile_92) == (survival.centile(curve, 0.5), survival.centile(curve, 0.92))
    assert now.tail == survival.tail(curve) and now.at_risk[0] == (0, int(curve.at_risk[0]))


def test_the_plain_list_is_of_those_seen_in_the_period() -> None:
    """Against numpy."""
    waits = [
        (row.stopped_on - row.started_on).days
        for row in ROWS
        if row.ended == "seen" and row.stopped_on and MARCH.first <= row.stopped_on <= MARCH.last
        if row.stopped_on >= (row.entered_on or row.started_on)
        for _ in range(row.number)
    ]
    now = asked().now
    assert len(waits) == now.seen
    assert (now.completed_median, now.completed_92) == pytest.approx(tuple(np.quantile(waits, [0.5, 0.92])))


def test_the_two_periods_are_compared_as_two_groups() -> None:
    found = asked()
    parts = {"before": found.before, "now": found.now}
    tallies = {name: survival.tally(watched(columns(ROWS), each.period)) for name, each in parts.items()}
    assert found.change == compare.log_rank(tallies)
    assert found.change.observed == {name: each.seen for name, each in parts.items()}


def test_a_month_in_which_completed_only_says_better_and_the_truth_says_worse() -> None:
    """Urgent ones are seen quickly while everybody else is left waiting: invented."""
    february = [Row(date(2026, 1, 20), date(2026, 2, 9), "seen", due_on=date(2026, 2, 3), number=30)]
    quick = Row(date(2026, 3, 2), date(2026, 3, 7), "seen", due_on=date(2026, 3, 16), number=10)
    left = Row(date(2026, 3, 2), date(2026, 4, 20), "seen", due_on=date(2026, 3, 16), number=40)
    found = asked([*february, quick, left])
    assert (found.before.completed_median, found.now.completed_median) == (20, 5)
    assert found.now.within_completed and found.now.within_completed.share == 1
    assert found.now.within and found.now.within.share == 0.2
    assert (found.before.median.day, found.now.median.day, found.now.waiting) == (20, None, 40)


def test_fewer_than_five_waits_have_numbers_and_nothing_more() -> None:
    few = Row(date(2026, 3, 2), date(2026, 3, 9), "seen", due_on=date(2026, 3, 16), number=4)
    found = asked([few])
    now = found.now
    assert (now.waits, now.seen, now.refused, now.curve, now.median) == (4, 4, "too-few", (), NO_DAY)
    assert (now.completed_median, now.restricted_mean, now.incidence, now.tail) == (None, None, {}, None)
    assert now.within and (now.within.number, now.within.of) == (4, 4) and found.change is None


def test_an_empty_period_is_answered() -> None:
    found = asked([], stretches=())
    assert (found.now.waits, found.now.refused, found.change) == (0, "too-few", None)
    assert found.trend == ((), None) and found.flow == ((), None, None, None, None)


def test_a_clock_without_a_target_has_no_share_no_trend_and_no_funnel() -> None:
    found = asked(clock=Clock.OFFERED, groups={"site": BY_SITE}, shown_from={"site": 1})
    assert (found.now.within, found.now.within_completed, found.trend) == (None, None, None)
    assert found.groups["site"].funnel is None and found.groups["site"].compared


def test_where_no_target_is_set_there_is_no_share() -> None:
    found = asked([row._replace(due_on=None) for row in ROWS])
    assert (found.now.within, found.now.within_completed, found.trend) == (None, None, None)


def test_the_flow_counts_week_by_week_and_is_never_below_nobody() -> None:
    flow = asked().flow
    counted = [counts(columns(ROWS), week) for week in weeks(12)]
    assert [(each.began, each.seen, each.waiting) for each in flow.points] == [
        (each.began, each.seen, each.waiting) for each in counted
    ]
    chart = individuals([each.seen for each in counted])
    assert (flow.mean, flow.mean_range) == (chart.mean, chart.mean_range)
    assert chart.limits and (flow.lower, flow.upper) == (max(0, chart.limits.lower), chart.limits.upper)


def test_the_lower_limit_of_a_flow_is_never_below_nobody() -> None:
    rows = [Row(week.first, week.first, "seen", number=1 + 9 * (place % 2)) for place, week in enumerate(weeks(12))]
    flow = asked(rows).flow
    assert (flow.mean, flow.lower, flow.mean_range) == (5.5, 0, 9)


def test_a_week_far_beyond_the_others_is_a_question() -> None:
    rows = [Row(week.first, week.first, "seen", number=5 + place % 2) for place, week in enumerate(weeks(12))]
    rows.append(Row(weeks(12)[4].first, weeks(12)[4].first, "seen", number=30))
    assert [point.signal for point in asked(rows).flow.points].count("beyond") == 1


def test_groups_in_the_order_of_their_keys_with_figures_of_their_own() -> None:
    groups = {"site": dict(reversed(BY_SITE.items()))}
    found = asked(groups=groups).groups["site"]
    assert [group.key for group in found.groups] == ["F1", "Q2", "Z3"]
    first, last = found.groups[0], found.groups[-1]
    alone = asked(BY_SITE["F1"]).now
    assert first[1:] == (alone.waits, alone.seen, alone.waiting, "", alone.median, alone.centile_92)
    assert (last.refused, last.median) == ("too-few", NO_DAY)


def test_groups_of_five_and_more_are_compared() -> None:
    found = asked(groups={"site": BY_SITE}).groups["site"]
    enough = {key: survival.tally(watched(columns(BY_SITE[key]), MARCH)) for key in ("F1", "Q2")}
    assert found.compared == compare.log_rank(enough) and found.funnel is None
    assert asked(groups={"site": {"F1": BY_SITE["F1"]}}).groups["site"].compared is None


def test_groups_of_one_of_five_and_of_the_set_number() -> None:
    day = MARCH.first
    groups = {"site": {"one": [Row(day, day, "seen")], "five": [Row(day, day, "seen", number=5)]}}
    one, five = sorted(asked(groups=groups).groups["site"].groups, key=lambda group: group.waits)
    assert (one.waits, one.refused, five.waits, five.refused) == (1, "too-few", 5, "")
    assert [group.key for group in asked(groups=groups, shown_from={"site": 5}).groups["site"].groups] == ["five"]


def test_a_therapist_is_shown_only_from_a_set_number() -> None:
    groups = {"therapist": BY_SITE | {"small": ROWS[250:255]}}
    found = asked(groups=groups, shown_from={"therapist": 20}).groups["therapist"]
    assert [group.key for group in found.groups] == ["F1", "Q2"]
    assert found.funnel and [point.key for point in found.funnel.points] == ["F1", "Q2"]
    assert found.funnel.left_out.keys() == {"Z3", "small"}


def test_rows_may_come_as_columns() -> None:
    as_columns = {key: columns(rows) for key, rows in BY_SITE.items()}
    by_rows, by_columns = ({"site": groups} for groups in (BY_SITE, as_columns))
    assert asked(columns(ROWS), groups=by_columns) == asked(groups=by_rows)


TARGET = date(2026, 3, 16)


@pytest.mark.parametrize(
    ("stopped", "ended", "field"),
    [
        (-3, "seen", "early"), (-2, "seen", "inside"), (2, "seen", "inside"), (3, "seen", "late"),
        (None, "waiting", "overdue"), (16, "seen", "overdue"), (0, "died", "ended_otherwise"),
    ],
)  # fmt: skip
def test_stitches_out_against_their_window(stopped: int | None, ended: str, field: str) -> None:
    two_days = timedelta(2)
    stopped_on = None if stopped is None else TARGET + timedelta(stopped)
    window = Window(TARGET - two_days, TARGET, TARGET + two_days, stopped_on, ended, number=3)
    slippage = asked(windows=[window]).slippage
    out = ((stopped, 3),)
    assert slippage == Slippage(
        **dict.fromkeys(HOW, 0) | {field: 3},
        by_day=out if field in OUT else (),
        outside=out if field in ("early", "late") else (),
        windows=((-2, 2),),
    )


def test_alike_windows_add_up_from_the_first_day_of_the_period_to_the_last() -> None:
    first, last = (Window(day, day, day, day, "seen", number=2) for day in MARCH)
    late = Window(
        last.due_on - timedelta(4), last.due_on - timedelta(3), last.due_on - timedelta(1), last.due_on, "seen"
    )
    slippage = asked(windows=[first, first, last, late, late]).slippage
    assert slippage and (slippage.inside, slippage.late) == (6, 2)
    assert (slippage.by_day, slippage.outside) == (((0, 6), (3, 2)), ((3, 2),))


def test_a_window_that_is_not_over_when_the_period_ends_lies_ahead() -> None:
    last = MARCH.last
    inside = Window(last, last, last, None, "waiting")
    outside = inside._replace(target_on=last + timedelta(1), due_on=last + timedelta(1))
    slippage = asked(windows=[inside, outside]).slippage
    assert slippage and (slippage.ahead, slippage.overdue) == (1, 0)
    assert asked().slippage is None


def test_every_figure_names_its_method() -> None:
    assert asked().methods == METHODS and all(METHODS.values())


def test_figures_can_be_filed_and_read_back() -> None:
    found = asked(groups={"site": BY_SITE}, shown_from={"site": 1})
    assert read(Figures, write(found)) == found
