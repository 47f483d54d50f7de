"""Periods, and the waits of one as they could be seen in it."""

from datetime import date, timedelta

import numpy as np
import pytest

from caseload.waits.rows import (
    NO_TARGET,
    OPEN,
    Counts,
    Period,
    Row,
    chosen,
    coded,
    columns,
    counts,
    overlapping,
    watched,
)

MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))


def day(month: int, of_month: int) -> date:
    return date(2026, month, of_month)


def seen(started: date, stopped: date, **more: object) -> Row:
    return Row(started, stopped, "seen", **more)


def invented(seed: int, size: int) -> list[Row]:
    """Waits of about a year around March, some from elsewhere, ending in every way."""
    dice = np.random.default_rng(seed)
    rows = []
    for start, length, late, end, number in zip(
        *dice.integers(0, (300, 90, 30, 4, 3), (size, 5)).T.tolist(), strict=True
    ):
        started = date(2025, 8, 1) + timedelta(start)
        ended = ("waiting", "seen", "declined", "died")[end]
        stopped = started + timedelta(length) if end else None
        rows.append(Row(started, stopped, ended, started + timedelta(late) if late < 10 else None, None, number + 1))
    return rows


@pytest.mark.parametrize(
    ("period", "before"),
    [
        ((date(2026, 3, 1), date(2026, 3, 31)), (date(2026, 2, 1), date(2026, 2, 28))),
        ((date(2026, 1, 1), date(2026, 3, 31)), (date(2025, 10, 1), date(2025, 12, 31))),
        ((date(2024, 2, 1), date(2024, 2, 29)), (date(2024, 1, 1), date(2024, 1, 31))),
        ((date(2025, 1, 1), date(2025, 12, 31)), (date(2024, 1, 1), date(2024, 12, 31))),
        ((date(2026, 3, 1), date(2026, 3, 30)), (date(2026, 1, 30), date(2026, 2, 28))),
        ((date(2026, 3, 30), date(2026, 4, 5)), (date(2026, 3, 23), date(2026, 3, 29))),
        ((date(2026, 3, 31), date(2026, 3, 31)), (date(2026, 3, 30), date(2026, 3, 30))),
    ],
)
def test_the_period_before_is_as_long_in_months_where_it_is_made_of_months(period, before):
    assert Period(*period).before == Period(*before)


def test_rows_become_columns():
    found = columns([
        Row(day(3, 2), None, "waiting", entered_on=day(3, 5), number=3),
        Row(day(3, 2), day(3, 9), "died", due_on=day(3, 16)),
    ])  # fmt: skip
    assert found.started.tolist() == [day(3, 2).toordinal()] * 2
    assert found.came.tolist() == [day(3, 5).toordinal(), day(3, 2).toordinal()]
    assert found.stopped.tolist() == [OPEN, day(3, 9).toordinal()]
    assert found.due.tolist() == [NO_TARGET, day(3, 16).toordinal()]
    assert [found.words[place] for place in found.ended] == ["waiting", "died"]
    assert found.number.tolist() == [3, 1]


def test_words_are_waiting_and_seen_and_then_the_competing_ends():
    places, words = coded(["died", "seen", "declined"])
    assert words == ("waiting", "seen", "declined", "died")
    assert places.tolist() == [3, 1, 2]


@pytest.mark.parametrize(
    "row",
    [
        Row(day(3, 2), day(3, 1), "seen"),
        Row(day(3, 2), day(3, 9), "waiting"),
        Row(day(3, 2), None, "seen"),
    ],
)
def test_a_row_that_cannot_be_is_refused(row):
    with pytest.raises(ValueError, match="not before it began"):
        columns([row])


def test_whoever_began_before_is_watched_from_the_first_day_with_the_days_waited_already():
    found = watched(columns([seen(day(2, 20), day(3, 4))]), MARCH)
    assert (found.entered.tolist(), found.days.tolist(), found.ended.tolist()) == ([9], [12], [1])


def test_whoever_is_seen_later_still_waits_at_the_end_of_the_period():
    rows = [seen(day(3, 20), day(4, 1)), seen(day(3, 20), day(3, 31)), Row(day(3, 20), None, "waiting")]
    found = watched(columns(rows), MARCH)
    assert found.days.tolist() == [11, 11, 11]
    assert found.ended.tolist() == [0, 1, 0]


def test_whoever_came_from_elsewhere_is_watched_from_that_day():
    found = watched(columns([seen(day(2, 20), day(3, 20), entered_on=day(3, 10))]), MARCH)
    assert (found.entered.tolist(), found.days.tolist()) == ([18], [28])


@pytest.mark.parametrize(
    "row",
    [
        seen(day(2, 1), day(2, 28)),
        seen(day(4, 1), day(4, 9)),
        seen(day(2, 1), day(4, 9), entered_on=day(4, 1)),
        seen(day(2, 1), day(3, 9), entered_on=day(3, 10)),
    ],
)
def test_whoever_did_not_wait_with_us_on_a_day_of_the_period_is_not_in_it(row):
    assert len(overlapping(columns([row]), MARCH).started) == 0
    assert counts(columns([row]), MARCH) == Counts(0, 0, 0, {}, 0)


def test_who_was_there_at_the_start_and_what_became_of_them():
    rows = [
        seen(day(2, 1), day(3, 1), number=2),
        Row(day(2, 1), day(3, 5), "declined"),
        Row(day(2, 1), day(4, 5), "died"),
        Row(day(3, 1), None, "waiting", number=4),
        seen(day(2, 1), day(3, 9), entered_on=day(3, 2)),
    ]
    assert counts(columns(rows), MARCH) == Counts(4, 5, 3, {"declined": 1}, 5)


@pytest.mark.parametrize("seed", range(5))
def test_the_counts_add_up_and_one_period_hands_on_to_the_next(seed):
    all_of = columns(invented(seed, 400))
    before, now = counts(all_of, MARCH.before), counts(all_of, MARCH)
    for each in (before, now):
        assert each.at_start + each.began == each.seen + sum(each.competing.values()) + each.waiting
    assert before.waiting == now.at_start > 0


@pytest.mark.parametrize("seed", range(3))
def test_what_is_counted_is_what_is_watched(seed):
    all_of = columns(invented(seed, 200))
    found, of = counts(all_of, MARCH), watched(all_of, MARCH)
    assert found.at_start + found.began == of.number.sum()
    assert found.waiting == of.number[of.ended == 0].sum()
    assert np.all((of.entered >= 0) & (of.entered <= of.days))


def test_every_day_waited_is_watched_in_one_month_or_another():
    """Split by months, nobody is at risk twice on one day of their wait, and nobody is lost on any."""
    all_of = columns(invented(3, 100))
    whole = watched(all_of, Period(date(2025, 8, 1), date(2026, 8, 31)))
    months = [Period(date(2025, 9, 1), date(2025, 9, 30)).before]
    while months[-1].last < date(2026, 8, 31):
        first = months[-1].last + timedelta(1)
        months.append(Period(first, (first + timedelta(31)).replace(day=1) - timedelta(1)))
    split = [watched(all_of, month) for month in months]
    days = [int(((of.days - of.entered + 1) * of.number).sum()) for of in (whole, *split)]
    assert days[0] == sum(days[1:])


def test_a_choice_of_waits_keeps_their_words():
    all_of = columns([seen(day(3, 1), day(3, 2)), Row(day(3, 1), None, "waiting"), Row(day(3, 1), day(3, 3), "died")])
    found = chosen(all_of, all_of.ended != 1)
    assert [found.words[place] for place in found.ended] == ["waiting", "died"]


def test_no_rows_are_no_waits():
    assert len(watched(columns([]), MARCH).days) == 0
    assert columns([]).words == ("waiting", "seen")
