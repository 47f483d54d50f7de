"""Birth dates: past, with a year, at most 120 years ago (the limit is our default, judged not sourced)."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.parsing import TypedDate, read_birth_date, refuse_born_after

TODAY = date(2026, 4, 1)


@pytest.mark.parametrize(
    "text, on",
    [
        ("14/6/1957", date(1957, 6, 14)),
        ("14/6/57", date(1957, 6, 14)),
        ("31/3/27", date(1927, 3, 31)),
        ("1 apr 2026", TODAY),
        ("1 apr 1906", date(1906, 4, 1)),
        ("29/2/1960", date(1960, 2, 29)),
    ],
)
def test_reads(text, on):
    assert read_birth_date(text, today=TODAY) == TypedDate(on)


@pytest.mark.parametrize(
    "text, code",
    [
        ("2 apr 2026", "birth-date-ahead"),
        ("31 mar 1906", "birth-date-too-old"),
        ("14 jun", "birth-date-without-year"),
        ("29/2/1957", "date-impossible"),
        ("today", "date-unreadable"),
    ],
)
def test_refuses(text, code, refusal):
    assert refusal(read_birth_date, text, today=TODAY).code == code


def test_two_digits_that_fit_a_child_and_someone_past_a_hundred_read_two_ways():
    assert read_birth_date("14/6/20", today=TODAY) == (date(2020, 6, 14), date(1920, 6, 14))
    assert read_birth_date("14 jun 20", today=TODAY) == (date(2020, 6, 14), date(1920, 6, 14))


def test_a_century_is_no_other_reading_when_it_has_no_such_day():
    assert read_birth_date("29/2/00", today=TODAY) == TypedDate(date(2000, 2, 29))


def test_the_other_order_counts_only_if_such_a_birth_is_possible():
    assert read_birth_date("2/12/1907", today=TODAY).other_reading == date(1907, 2, 12)
    assert read_birth_date("3/12/2025", today=date(2025, 12, 20)).other_reading == date(2025, 3, 12)
    assert read_birth_date("4/3/2026", today=date(2026, 3, 20)).other_reading is None


def test_on_a_leap_day_the_oldest_birth_is_on_a_day_that_exists():
    assert read_birth_date("28/2/1904", today=date(2024, 2, 29)).on == date(1904, 2, 28)


def test_nobody_is_operated_on_before_birth(refusal):
    refuse_born_after(date(2026, 3, 20), date(2026, 3, 20))
    refused = refusal(refuse_born_after, date(2026, 3, 21), date(2026, 3, 20))
    assert refused.code == "born-after-surgery"


@given(born_on=st.dates(date(1906, 4, 1), TODAY))
def test_every_possible_birth_date_reads_back(born_on):
    assert read_birth_date(f"{born_on.day}/{born_on.month}/{born_on.year}", today=TODAY).on == born_on


@given(born_on=st.dates(date(1926, 4, 2), TODAY))
def test_two_digits_give_the_latest_birth_that_is_past(born_on):
    assert read_birth_date(f"{born_on.day}.{born_on.month}.{born_on:%y}", today=TODAY).on == born_on
