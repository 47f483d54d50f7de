"""Weekly sessions: the days they are held, what cannot be saved, and the windows they leave empty."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from caseload.booking.weeks import EXAMPLES, check, clash, dates_of, minutes_of, uncovered
from caseload.errors import Refusal
from tests.booking.builders import ELSEWHERE, NINE, OTHER, pattern
from tests.timetable.builders import ENGLAND, day

LONDON = "Europe/London"
CLOCKS_CHANGE = day("2026-03-29")


def test_a_session_is_held_on_its_weekday_when_the_site_is_open() -> None:
    mondays = dates_of(pattern(weekday=0), day("2026-03-30"), day("2026-04-20"), ENGLAND)
    assert mondays == (day("2026-03-30"), day("2026-04-13"), day("2026-04-20"))


def test_a_session_is_held_inside_its_dates_only() -> None:
    held = pattern(starts_on=day("2026-02-10"), ends_on=day("2026-02-23"))
    assert dates_of(held, day("2026-01-01"), day("2026-12-31"), ENGLAND) == (day("2026-02-10"), day("2026-02-17"))


def test_beyond_the_known_holidays_no_session_is_made() -> None:
    assert dates_of(pattern(), day("2028-01-01"), day("2028-12-31"), ENGLAND) == ()


def test_a_session_is_cut_into_whole_slots() -> None:
    assert minutes_of(NINE, NINE + 70, day("2026-02-03"), LONDON) == (540, 560, 580)


def test_slots_that_would_start_in_the_missing_hour_are_left_out() -> None:
    assert minutes_of(30, 160, CLOCKS_CHANGE, LONDON) == (30, 50, 130)


def test_a_session_that_would_start_in_the_missing_hour_is_refused() -> None:
    with pytest.raises(Refusal) as refused:
        minutes_of(60, 240, CLOCKS_CHANGE, LONDON)
    assert (refused.value.code, refused.value.details["field"]) == ("no-such-time", "start")


@pytest.mark.parametrize(
    "other",
    [
        {"start": NINE + 160, "end": NINE + 300},
        {"start": NINE + 20, "end": NINE + 40},
        {"site": ELSEWHERE},
        {"ends_on": date(2026, 1, 6)},
    ],
)
def test_one_therapist_cannot_hold_two_sessions_at_once(other: dict[str, Any]) -> None:
    one, two = pattern(1), pattern(2, **other)
    assert clash([one, two]) == (one, two) and clash([two, one]) == (two, one)


@pytest.mark.parametrize(
    "other",
    [
        {"therapist": OTHER},
        {"weekday": 2},
        {"start": NINE + 180, "end": NINE + 240},
        {"start": NINE - 60, "end": NINE},
        {"starts_on": date(2025, 1, 1), "ends_on": date(2025, 12, 31)},
        {"ends_on": date(2026, 1, 5)},
    ],
)
def test_sessions_that_never_meet_do_not_clash(other: dict[str, Any]) -> None:
    assert clash([pattern(1), pattern(2, **other)]) is None and clash([pattern(2, **other), pattern(1)]) is None


@pytest.mark.parametrize("hours", [(0, 20), (0, 1440), (NINE, NINE + 30)])
def test_a_session_with_room_for_a_slot_is_well(hours: tuple[int, int]) -> None:
    check(pattern(start=hours[0], end=hours[1], ends_on=date(2026, 1, 1)))


@pytest.mark.parametrize(
    ("said", "code", "field", "sentence"),
    [
        ({"start": NINE, "end": NINE}, "session-hours", "end", "ends after it begins"),
        ({"start": -10, "end": NINE}, "session-hours", "end", "on the same day"),
        ({"start": NINE, "end": 1450}, "session-hours", "end", "on the same day"),
        ({"start": NINE + 5}, "session-hours", "end", "whole 10 minutes, such as 09:00"),
        ({"end": NINE + 65}, "session-hours", "end", "whole 10 minutes"),
        ({"end": NINE + 10}, "session-hours", "end", "one slot of 20 minutes"),
        ({"ways": frozenset()}, "session-ways", "ways", "at least one"),
        ({"ends_on": date(2025, 12, 31)}, "session-dates", "ends_on", "ends before it begins"),
    ],
)
def test_a_session_that_cannot_be_is_refused(said: dict[str, Any], code: str, field: str, sentence: str) -> None:
    with pytest.raises(Refusal, match=sentence) as refused:
        check(pattern(**said))
    assert (refused.value.code, refused.value.details["field"]) == (code, field)


def test_windows_without_a_session_day_are_counted_and_the_first_are_named() -> None:
    first = day("2026-02-02")
    windows = [(first + timedelta(days=each), first + timedelta(days=each + 1)) for each in range(7)]
    found = uncovered([day("2026-02-10"), day("2026-02-03")], windows)
    assert (found.windows, found.without) == (7, 5)
    assert found.examples == (day("2026-02-04"), day("2026-02-05"), day("2026-02-06"))


DATES = some.dates(date(2026, 1, 1), date(2026, 2, 28))


@given(some.lists(DATES, max_size=8), some.lists(some.tuples(DATES, DATES), max_size=8))
def test_a_window_is_uncovered_when_no_session_day_lies_in_it(days: list[date], windows: list[Any]) -> None:
    empty = {first for first, last in windows if not any(first <= on <= last for on in days)}
    found = uncovered(days, windows)
    assert found.examples == tuple(sorted(empty))[:EXAMPLES]
    assert found.without == sum(
        first in empty and not any(first <= on <= last for on in days) for first, last in windows
    )
