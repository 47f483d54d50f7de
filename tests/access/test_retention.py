"""How long a record is kept: years from the retention schedule of the Records Management Code of Practice (from
memory), dates worked out by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from caseload.access.retention import Record, Time, Why, after, time_of

few = settings(max_examples=40)
days = st.dates(date(1900, 1, 1), date(2100, 1, 1))


@pytest.mark.parametrize(
    ("born_on", "last_on", "why", "until"),
    [
        (date(1960, 1, 2), date(2018, 3, 1), Why.ADULT, date(2026, 3, 1)),
        (date(2000, 3, 1), date(2018, 3, 1), Why.ADULT, date(2026, 3, 1)),  # 18 on that very day
        (date(2000, 3, 2), date(2018, 3, 1), Why.CHILD, date(2026, 3, 2)),  # still 17: the 26th birthday
        (date(2001, 3, 1), date(2018, 3, 1), Why.CHILD, date(2027, 3, 1)),  # 17 on that very day
        (date(2001, 3, 2), date(2018, 3, 1), Why.CHILD, date(2026, 3, 2)),  # 16: the 25th birthday
        (date(2015, 5, 5), date(2018, 3, 1), Why.CHILD, date(2040, 5, 5)),
        (date(2012, 2, 29), date(2018, 3, 1), Why.CHILD, date(2037, 3, 1)),  # no 29 February in 2037
        (None, date(2018, 3, 1), Why.BIRTH_UNKNOWN, date(2043, 3, 1)),
        (date(1960, 1, 2), date(2016, 2, 29), Why.ADULT, date(2024, 2, 29)),
    ],
)
def test_the_age_at_the_end_decides(born_on, last_on, why, until):
    assert time_of(Record(last_on, born_on), 8) == Time(why, until)


def test_more_years_hold_for_children_too():
    assert time_of(Record(date(2018, 3, 1), date(2001, 3, 2)), 20).until == date(2038, 3, 1)


def test_it_is_over_on_the_day_after_its_last():
    time = Time(Why.ADULT, date(2026, 3, 1))
    assert not time.over(date(2026, 3, 1)) and time.over(date(2026, 3, 2))
    assert not Time(Why.OPEN, None).over(date.max)


def test_what_is_open_or_has_no_day_is_never_over():
    long_ago = date(1990, 1, 1)
    assert time_of(Record(long_ago, long_ago, open=True), 8) == Time(Why.OPEN, None)
    assert time_of(Record(None, long_ago), 8) == Time(Why.UNDATED, None)


def test_a_lead_keeps_it_longer_never_shorter():
    adult = {"last_on": date(2018, 3, 1), "born_on": date(1960, 1, 2), "kept": True}
    assert time_of(Record(**adult), 8) == Time(Why.KEPT, None)
    assert time_of(Record(**adult, kept_until_on=date(2030, 1, 1)), 8) == Time(Why.KEPT, date(2030, 1, 1))
    assert time_of(Record(**adult, kept_until_on=date(2020, 1, 1)), 8) == Time(Why.ADULT, date(2026, 3, 1))


@few
@given(days, st.none() | days, st.integers(1, 30))
def test_no_record_goes_before_its_years_are_over(last_on, born_on, years):
    until = time_of(Record(last_on, born_on), years).until
    assert until >= after(last_on, years)
    assert not Time(Why.ADULT, until).over(after(last_on, years))


@few
@given(days, days)
def test_nobody_who_was_a_child_at_the_end_goes_before_the_25th_birthday(last_on, born_on):
    if last_on < after(born_on, 18):
        assert time_of(Record(last_on, born_on), 8).until >= after(born_on, 25)


def test_no_day_lies_beyond_the_calendar():
    assert after(date(9990, 1, 1), 25) == date(9999, 1, 1)
    assert after(date(2016, 2, 29), 1) - timedelta(1) == date(2017, 2, 28)
