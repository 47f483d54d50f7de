"""What a column of dates says about its order. The spreadsheet trap: opened under an American locale, day-first text
that reads month first becomes a date cell with day and month exchanged, and the rest stays text (common experience).
"""

from datetime import date

import pytest

from caseload.exchange.date_order import DateOrder, find_order
from caseload.exchange.theatre_list import read_theatre_list
from tests.exchange.lists import OTHER, SOUND, TODAY, codes, rows_of, table

DATE = "Surgery date"


@pytest.mark.parametrize(
    "cells, order",
    [
        (["3/4/26", "20/3/26"], DateOrder.DAY_FIRST),
        (["3/4/26", "3/20/26"], DateOrder.MONTH_FIRST),
        (["3/4/26", "20/3/26", "3/20/26"], DateOrder.BOTH),
        (["3/4/26", "5/5/26", "3 apr 26", "2026-03-20", None, "soon", 3.0], DateOrder.UNSETTLED),
        (["Fri 3/4/26", "3/4/26"], DateOrder.DAY_FIRST),
        ([], DateOrder.UNSETTLED),
        (["20/3/26", "27/3/26", date(2026, 4, 3)], DateOrder.SWAPPED),
        (["20/3/26", "3/4/26", date(2026, 4, 3)], DateOrder.DAY_FIRST),
        (["20/3/26", date(2026, 4, 3), date(2026, 4, 13)], DateOrder.DAY_FIRST),
        (["20/3/26", "3/20/26", date(2026, 4, 3)], DateOrder.BOTH),
        ([date(2026, 4, 3)], DateOrder.UNSETTLED),
    ],
)
def test_the_dates_that_read_one_way_settle_the_column(cells, order):
    assert find_order(DATE, cells, today=TODAY) is order


@pytest.mark.parametrize(
    "header, order",
    [("Surgery date (dd/mm/yyyy)", DateOrder.DAY_FIRST), ("Surgery date d.m.y", DateOrder.DAY_FIRST),
     ("Surgery date (MM/DD/YY)", DateOrder.MONTH_FIRST), ("Surgery date", DateOrder.UNSETTLED)],
)  # fmt: skip
def test_a_header_can_settle_it(header, order):
    assert find_order(header, ["3/4/26"], today=TODAY) is order


def surgery(first, second, **named):
    """Two persons with these surgery dates."""
    return rows_of(SOUND | {DATE: first}, OTHER | {DATE: second}, **named)


def test_a_settled_column_reads_without_doubt():
    assert [row.problems for row in surgery("3/4/26", "20/3/26")] == [(), ()]


def test_an_unsettled_date_is_marked_not_guessed():
    rows = surgery("3/4/26", "2026-03-20")
    assert codes(rows[0]) == [(DATE, "date-reads-two-ways")]
    assert "Fri 3 Apr 2026, and could be Wed 4 Mar 2026" in rows[0].problems[0].message
    assert rows[0].value.surgery_on == date(2026, 4, 3)


def test_a_column_written_month_first_is_refused_until_somebody_says_so():
    assert [codes(row) for row in surgery("4/3/26", "3/20/26")] == [
        [(DATE, "date-month-first-column")],
        [(DATE, "date-other-order")],
    ]
    stated = surgery("4/3/26", "3/20/26", month_first=["surgery_on"])
    assert [(row.value.surgery_on, row.problems) for row in stated] == [(date(2026, 4, 3), ()), (date(2026, 3, 20), ())]


def test_a_column_that_contradicts_itself_stays_doubtful():
    rows = rows_of(SOUND | {DATE: "3/4/26"}, OTHER | {DATE: "20/3/26"}, OTHER | {DATE: "3/20/26"})
    assert codes(rows[0]) == [(DATE, "date-reads-two-ways")]
    assert rows[1].value and rows[2].refused


def test_days_that_a_spreadsheet_may_have_exchanged_are_doubtful():
    rows = surgery(date(2026, 3, 4), "20/3/26")
    assert codes(rows[0]) == [(DATE, "date-swapped")]
    assert "Wed 4 Mar 2026 could be Fri 3 Apr 2026" in rows[0].problems[0].message
    assert surgery(date(2026, 3, 3), "20/3/26")[0].problems == ()


def test_a_settled_order_does_not_settle_a_century():
    rows = rows_of(SOUND | {"Date of birth": "14/6/20"}, OTHER)
    assert codes(rows[0]) == [("Date of birth", "date-reads-two-ways")]


def test_only_dates_can_be_month_first(refusal):
    assert refusal(read_theatre_list, table(SOUND), today=TODAY, month_first=["side"]).code == "columns-unknown"


def test_the_list_tells_the_order_of_its_columns():
    orders = read_theatre_list(table(SOUND | {"Referral received": "3/20/26"}), today=TODAY).orders
    assert orders == {
        "born_on": DateOrder.DAY_FIRST,
        "surgery_on": DateOrder.DAY_FIRST,
        "referral_received_on": DateOrder.MONTH_FIRST,
    }
