"""The month of the demo in which those who were seen tell the wrong story, and the clocks that it shows."""

from datetime import date, timedelta
from random import Random

import pytest

from caseload.demo.waiting import courses
from caseload.waits.audit import figures
from caseload.waits.rows import Period, Row
from caseload.waits.terms import Clock


def ordinary(today: date) -> list[Row]:
    """What goes on beside: a referral a day, seen 12 to 28 days later, as in the crowd of the demo."""
    days = [today - timedelta(days=back) for back in range(30, 180)]
    return [Row(on, on + timedelta(days=12 + place * 7 % 17), "seen") for place, on in enumerate(days)]


@pytest.mark.parametrize("today", [date(2026, 6, 1), date(2026, 6, 17), date(2026, 3, 31), date(2024, 3, 15)])
def test_in_the_last_whole_month_the_completed_only_fall_while_the_waits_grow(today):
    last = today.replace(day=1) - timedelta(days=1)
    month = Period(last.replace(day=1), last)
    told = [
        Row(each.received_on, each.seen_on, "seen") if each.seen_on else Row(each.received_on, None, "waiting")
        for each in courses(today, Random(1))
    ]
    found = figures(Clock.FIRST_VISIT, month, [*ordinary(today), *told], (month,), {}, shown_from={})
    assert found.now.completed_median < found.before.completed_median
    assert found.now.median.day > found.before.median.day
