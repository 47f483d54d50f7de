"""Typed dates. The reference for calendar facts (real days, weekdays) is Python's own datetime; habits are common
practice in England: day first.
"""

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import TypedDate, in_words, read_date, read_written_date
from caseload.parsing.dates import both_readings

TODAY = date(2026, 4, 1)
DAYS = st.dates(date(1950, 1, 1), date(2040, 12, 31))
FRI_3_APRIL = date(2026, 4, 3)

ONE_WAY = [
    *("3 apr", "3 apr 2026", "3 April 2026", "Fri 3 Apr 2026", "Friday, 3rd April 2026", "3rd of April 2026"),
    *("03-APR-26", "3.Apr.2026", "3apr26", "3 Apr '26", "Apr 3, 2026", "April 3rd 2026", "Fri 3/4/26"),
    *("2026-04-03", "2026/4/3", "2026.04.03", "20260403", "2026-04-03T09:30", "2026-04-03 09:30:00.000"),
    *("3 apr 2026 9:30 am", "\u00a03\u00a0apr\u00a02026 ", "\uff13 apr 2026"),
]
TWO_WAYS = [
    "3/4/26",
    "03.04.2026",
    "3-4-2026",
    "03/04/2026 00:00",
    "3 / 4 / 2026",
    "3 4 2026",
    "03042026",
    "3/4",
    "3.4.",
]


@pytest.mark.parametrize("text", ONE_WAY)
def test_reads_one_way(text):
    assert read_date(text, today=TODAY) == TypedDate(FRI_3_APRIL)


@pytest.mark.parametrize("text", TWO_WAYS)
def test_reads_day_first_and_says_that_it_reads_two_ways(text):
    assert read_date(text, today=TODAY) == (FRI_3_APRIL, date(2026, 3, 4))


@pytest.mark.parametrize("text", ["13/4/26", "5/5/26", "5.5.2026", "31/12/2025"])
def test_a_date_that_only_reads_one_way_has_no_other(text):
    assert read_date(text, today=TODAY).other_reading is None


@pytest.mark.parametrize(
    "text, days",
    [("today", 0), ("Yesterday", -1), ("tomorrow", 1), ("+10", 10), ("-3", -3), ("\u22123", -3), ("+ 0", 0)],
)
def test_days_counted_from_today(text, days):
    assert read_date(text, today=TODAY) == TypedDate(TODAY + timedelta(days=days))


@pytest.mark.parametrize("text", ["today", "+10", "-3"])
def test_a_list_is_not_read_from_the_day_it_is_opened(text, refusal):
    assert refusal(read_written_date, text, today=TODAY).code == "date-unreadable"


def test_a_date_cell_is_taken_as_it_is():
    assert read_date(FRI_3_APRIL, today=TODAY) == TypedDate(FRI_3_APRIL)
    assert read_written_date(datetime(2026, 4, 3, 9, 30), today=TODAY) == TypedDate(FRI_3_APRIL)


@pytest.mark.parametrize(
    "text, on", [("1 jan", date(2026, 1, 1)), ("30 sep", date(2026, 9, 30)), ("2 oct", date(2025, 10, 2))]
)
def test_without_a_year_the_nearest_such_day(text, on):
    assert read_date(text, today=TODAY).on == on


def test_without_a_year_the_earlier_day_on_a_tie():
    # 4 March 2024 lies 183 days from 3 September 2023 and 183 days from 3 September 2024.
    assert read_date("3 sep", today=date(2024, 3, 4)).on == date(2023, 9, 3)


@pytest.mark.parametrize("text, year", [("3 apr 46", 2046), ("3 apr 47", 1947), ("3 apr 00", 2000), ("3 apr 99", 1999)])
def test_a_two_digit_year_reaches_twenty_years_ahead(text, year):
    assert read_date(text, today=TODAY).on.year == year


def test_a_leap_day_of_a_two_digit_year_takes_a_century_in_which_it_exists():
    assert read_date("29/2/00", today=date(1999, 1, 1)).on == date(2000, 2, 29)
    assert read_date("29/2/00", today=date(2085, 1, 1)).on == date(2000, 2, 29)


@pytest.mark.parametrize(
    "text, code, said",
    [
        ("31/2/2026", "date-impossible", "February has 28 days"),
        ("31/2/2024", "date-impossible", "February has 29 days"),
        ("31/2", "date-impossible", "February has 29 days"),
        ("31/4/26", "date-impossible", "April has 30 days"),
        ("29/2/2025", "date-impossible", "2025 is not a leap year"),
        ("29/2/25", "date-impossible", "2025 is not a leap year"),
        ("29 feb", "date-impossible", "no 29 February in last, this or next year"),
        ("0/4/26", "date-impossible", "no day 0"),
        ("3/4/0000", "date-impossible", "no year 0"),
        ("32 dec 2026", "date-impossible", "December has 31 days"),
        ("13/13/2026", "date-impossible", "no month 13"),
        ("4/13/2026", "date-other-order", "type 13 Apr 2026"),
        ("Wed 3/4/26", "date-other-order", "If Wed 4 Mar 2026 is meant"),
        ("Mon 3 Apr 2026", "date-wrong-weekday", "3 Apr 2026 is a Friday"),
        ("3/4/1850", "date-out-of-range", "1900 to 2100"),
        ("+99999", "date-out-of-range", "1900 to 2100"),
        ("46115", "date-serial", "3 Apr 2026"),
        ("", "date-missing", "day first"),
        ("apr 26", "date-unreadable", "day first"),
        ("3 apx 2026", "date-unreadable", "day first"),
        ("apx 3, 2026", "date-unreadable", "day first"),
        ("xyz 3/4/26", "date-unreadable", "day first"),
        ("3/4-2026", "date-unreadable", "day first"),
        ("2026-04-03T09:30Z", "date-unreadable", "day first"),
        ("3/4/026", "date-unreadable", "day first"),
        ("3" + "." * 60 + "apr", "date-unreadable", "day first"),
        ("3 apr 2026" + " " * 60 + "or later", "date-unreadable", "day first"),
    ],
)
def test_what_is_no_date_is_refused_with_the_reason(text, code, said, refusal):
    refused = refusal(read_date, text, today=TODAY)
    assert refused.code == code
    assert said in refused.message


def test_the_refusal_names_the_other_reading(refusal):
    assert refusal(read_date, "4/13/26", today=TODAY).details == {"other_reading": date(2026, 4, 13)}


def test_month_first_only_where_somebody_said_so(refusal):
    assert read_written_date("4/3/26", today=TODAY, month_first=True) == TypedDate(FRI_3_APRIL)
    assert read_written_date("3 apr 26", today=TODAY, month_first=True) == TypedDate(FRI_3_APRIL)
    assert refusal(read_written_date, "20/4/26", today=TODAY, month_first=True).code == "date-other-order"


@pytest.mark.parametrize(
    "text, readings",
    [
        ("3/4/26", (FRI_3_APRIL, date(2026, 3, 4))),
        ("20/3/26", (date(2026, 3, 20), None)),
        ("3/20/26", (None, date(2026, 3, 20))),
        ("Fri 3/4/26", (FRI_3_APRIL, None)),
        ("3 apr 26", None),
        ("2026-04-03", None),
        ("soon", None),
    ],
)
def test_both_readings_of_a_numeric_date(text, readings):
    assert both_readings(text, today=TODAY) == readings


FORMS = {
    "ISO": lambda d: d.isoformat(),
    "slashes": lambda d: f"{d.day}/{d.month}/{d.year}",
    "dots": lambda d: f"{d.day:02}.{d.month:02}.{d.year}",
    "hyphens": lambda d: f"{d.day}-{d.month}-{d.year}",
    "short month": lambda d: f"{d.day} {in_words(d).split()[2].lower()} {d.year}",
    "in words": in_words,
    "run": lambda d: f"{d.day:02}{d.month:02}{d.year}",
    "ISO run": lambda d: f"{d.year}{d.month:02}{d.day:02}",
    "cell": lambda d: d,
}


@pytest.mark.parametrize("form", FORMS)
@given(day=DAYS)
def test_every_day_reads_back_from_every_form(form, day):
    assert read_date(FORMS[form](day), today=TODAY).on == day


@given(day=st.dates(date(1946, 4, 1), date(2046, 12, 31)))
def test_a_two_digit_year_reads_back_within_its_century(day):
    on = read_date(f"{day.day}/{day.month}/{day:%y}", today=TODAY).on
    assert (on.day, on.month, on.year % 100) == (day.day, day.month, day.year % 100)
    assert on == day or day.year < 1947


@given(day=DAYS, today=st.dates(date(1960, 1, 1), date(2090, 12, 31)))
def test_a_day_without_a_year_lies_within_half_a_year(day, today):
    try:
        on = read_date(f"{day.day}/{day.month}", today=today).on
    except Refusal:
        assert (day.month, day.day) == (2, 29)
    else:
        assert abs(on - today) <= timedelta(days=183) or (day.month, day.day) == (2, 29)


@given(day=DAYS)
def test_there_is_another_reading_exactly_when_day_and_month_can_be_exchanged(day):
    other = read_date(f"{day.day}/{day.month}/{day.year}", today=TODAY).other_reading
    assert (other is not None) == (day.day <= 12 and day.day != day.month)


@given(text=st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        read_date(text, today=TODAY)
    except Refusal as refusal:
        assert refusal.code and refusal.message


@given(text=st.from_regex(r"[A-Za-z]{0,4} ?[0-9]{1,8}[/. \-]?[0-9]{0,4}[/. \-]?[0-9]{0,5}", fullmatch=True))
def test_anything_like_a_date_is_read_or_refused(text):
    try:
        read_date(text, today=TODAY)
    except Refusal as refusal:
        assert refusal.code and refusal.message
