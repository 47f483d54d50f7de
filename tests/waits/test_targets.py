"""Within target both ways, its trend and its funnel."""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import pytest

from caseload.waits.figures import Share
from caseload.waits.proportion import band, wilson
from caseload.waits.rows import Period, Row, columns
from caseload.waits.targets import DRAWN, fell_due, funnel, trend, within_completed, within_due

MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
START = date(2026, 3, 2)
DUE = date(2026, 3, 16)


def row(ended: str = "waiting", stopped: date | None = None, due: date | None = DUE, **more: object) -> Row:
    return Row(START, stopped, ended, due_on=due, **more)  # type: ignore[arg-type]


def due_in_march(*rows: Row) -> tuple[int, int]:
    share = within_due(columns(rows), MARCH)
    return share.number, share.of


def person_by_person(rows: Sequence[Row], period: Period) -> tuple[int, int]:
    """The same, said of one after the other."""
    kept = of = 0
    for each in rows:
        came, due = max(each.started_on, each.entered_on or each.started_on), each.due_on
        if due is None or not period.first <= due <= period.last or came > due:
            continue
        if each.stopped_on and (each.stopped_on < came or (each.ended != "seen" and each.stopped_on < due)):
            continue
        of += each.number
        kept += each.number if each.ended == "seen" and each.stopped_on and each.stopped_on <= due else 0
    return kept, of


def invented(seed: int, size: int) -> list[Row]:
    dice = np.random.default_rng(seed)
    rows = []
    for start, length, end, late, number in zip(
        *dice.integers(0, (90, 40, 4, 60, 3), (size, 5)).T.tolist(), strict=True
    ):
        started = date(2026, 1, 20) + timedelta(start)
        stopped = started + timedelta(length) if end else None
        entered = started + timedelta(late) if late < 20 else None
        ended, due = ("waiting", "seen", "seen", "died")[end], started + timedelta(14)
        rows.append(Row(started, stopped, ended, entered, due if late % 7 else None, number + 1))
    return rows


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([row("seen", DUE)], (1, 1)),
        ([row("seen", DUE + timedelta(1))], (0, 1)),
        ([row()], (0, 1)),
        ([row("died", DUE - timedelta(1))], (0, 0)),
        ([row("died", DUE)], (0, 1)),
        ([row("died", DUE + timedelta(5))], (0, 1)),
        ([row("seen", DUE, due=None)], (0, 0)),
        ([row("seen", START, due=date(2026, 4, 1))], (0, 0)),
        ([row("seen", DUE, number=3), row(number=2)], (3, 5)),
        ([row("seen", DUE, entered_on=DUE)], (1, 1)),
        ([row("seen", DUE + timedelta(3), entered_on=DUE + timedelta(1))], (0, 0)),
    ],
)
def test_of_those_whose_target_day_fell_in_the_period(rows: list[Row], expected: tuple[int, int]) -> None:
    assert due_in_march(*rows) == expected


def test_one_who_was_seen_before_the_period_began_counts_where_the_target_day_lies_in_it() -> None:
    early = Row(date(2026, 2, 20), date(2026, 2, 25), "seen", due_on=date(2026, 3, 6))
    assert due_in_march(early) == (1, 1)
    assert within_completed(columns([early]), MARCH).of == 0


def test_of_those_seen_in_the_period_the_longest_waits_are_missing() -> None:
    rows = [row("seen", DUE), row(number=9), row("seen", DUE + timedelta(2)), row("died", DUE)]
    assert within_completed(columns(rows), MARCH) == wilson(1, 2)
    assert within_due(columns(rows), MARCH) == wilson(1, 12)


@pytest.mark.parametrize(("came", "stopped"), [(START, START), (START, MARCH.last), (date(2026, 2, 2), MARCH.first)])
def test_seen_on_the_day_of_coming_or_the_first_or_last_of_the_period(came: date, stopped: date) -> None:
    assert within_completed(columns([Row(came, stopped, "seen", due_on=stopped)]), MARCH) == wilson(1, 1)


def test_what_fell_due_is_the_same_person_by_person() -> None:
    for seed in range(20):
        rows = invented(seed, 120)
        share = within_due(columns(rows), MARCH)
        assert (share.number, share.of) == person_by_person(rows, MARCH)
        assert not fell_due(columns(rows), Period(date(2030, 1, 1), date(2030, 1, 31))).any()


def weeks(number: int) -> list[Period]:
    first = date(2026, 1, 5)
    return [Period(first + timedelta(7 * week), first + timedelta(7 * week + 6)) for week in range(number)]


def of_week(week: Period, kept: int, missed: int) -> list[Row]:
    due = week.first
    start = due - timedelta(14)
    return [Row(start, due, "seen", due_on=due, number=kept), Row(start, None, "waiting", due_on=due, number=missed)]


def test_a_trend_marks_what_is_more_than_chance() -> None:
    counted = [(9, 1)] * 9 + [(0, 10)]
    rows = [each for week, kept in zip(weeks(10), counted, strict=True) for each in of_week(week, *kept)]
    found = trend(columns(rows), weeks(10))
    assert [point.signal for point in found.points] == [""] * 7 + ["run", "run", "beyond"]
    assert found.mean == pytest.approx(0.81) and [point.of for point in found.points] == [10] * 10
    assert [point.share for point in found.points] == [0.9] * 9 + [0]


def test_a_week_in_which_nothing_fell_due_has_no_share_and_all_for_limits() -> None:
    point, _ = trend(columns(of_week(weeks(2)[1], 1, 1)), weeks(2)).points
    assert (point.number, point.of, point.share, point.lower, point.upper, point.signal) == (0, 0, None, 0, 1, "")


def test_a_trend_of_nothing_has_no_mean() -> None:
    assert trend(columns([]), weeks(2)).mean is None and trend(columns([]), []) == ((), None)


def test_a_funnel_keeps_the_order_of_names_and_says_who_is_beyond() -> None:
    found = funnel({"Quay": (60, 200), "Alder": (180, 200), "Birch": (125, 200), "Elm": (2, 4)}, 5)
    assert found and found.overall == pytest.approx(367 / 604) and found.left_out == {"Elm": 4}
    assert [(point.key, point.beyond, point.side) for point in found.points] == [
        ("Alder", "99.8", "above"), ("Birch", "", ""), ("Quay", "99.8", "below"),
    ]  # fmt: skip
    assert found.points[0].share == wilson(180, 200) and found.points[0][2:6] == band(200, found.overall)
    assert found.dispersion and found.dispersion > 10


def test_between_the_two_limits_is_beyond_the_inner() -> None:
    """39 or fewer of 100 come about in 1.8 % where half is the rule (scipy)."""
    found = funnel({"a": (39, 100), "b": (61, 100)}, 1)
    assert found and [(point.beyond, point.side) for point in found.points] == [("95", "below"), ("95", "above")]


def test_a_group_is_beyond_by_exact_chance_not_by_the_line() -> None:
    """60 or more of 100 come about in 2.8 % (scipy), though the interpolated line is drawn at .5932; and all of 22 are
    no wonder where it is the rule, though the line of 99.8 % is drawn at .9997."""
    found = funnel({"a": (40, 100), "b": (60, 100)}, 1)
    assert found and {point.beyond for point in found.points} == {""} and found.points[1].upper_95 < 0.6
    found = funnel({"a": (22, 22), "b": (14, 17)}, 1)
    assert found and found.points[0].beyond == "" and found.points[0].upper_998 < 1


def test_the_limits_are_drawn_past_the_largest_group() -> None:
    found = funnel({"a": (50, 100), "b": (1, 2)}, 1)
    assert found and found.limits[0][0] == 1 and found.limits[-1][0] == 110 and len(found.limits) <= DRAWN
    assert found.limits[-1][1:] == band(110, found.overall)


def test_a_group_is_shown_from_its_set_number_on() -> None:
    found = funnel({"a": (1, 1), "b": (1, 5), "c": (0, 4)}, 5)
    assert found and ([point.key for point in found.points], found.left_out) == (["b"], {"a": 1, "c": 4})
    found = funnel({"a": (1, 1), "b": (1, 5)}, 1)
    assert found and [point.key for point in found.points] == ["a", "b"]


def test_a_group_of_nobody_is_left_out_and_a_funnel_of_nobody_is_none() -> None:
    found = funnel({"a": (1, 2), "b": (0, 0)}, 0)
    assert found and found.left_out == {"b": 0} and found.dispersion is None
    assert funnel({"a": (0, 0)}, 1) is None and funnel({}, 1) is None


def test_where_all_groups_are_too_small_there_is_nothing_to_draw() -> None:
    found = funnel({"a": (1, 2), "b": (1, 3)}, 20)
    assert found and (found.points, found.limits, found.left_out) == ((), (), {"a": 2, "b": 3})


def test_nothing_fell_due() -> None:
    assert within_due(columns([]), MARCH) == Share(0, 0, None, None, None)
