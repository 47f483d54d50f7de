"""A list of closed days: dates, ranges, reasons, remarks."""

import pytest

from caseload.errors import Refusal
from caseload.exchange.closed_days import read_closed_days
from caseload.timetable.calendar import Closed
from tests.timetable.builders import day


def test_days_ranges_and_reasons() -> None:
    lines = ["2026-08-03", "2026-08-10..2026-08-14 summer works ", "# a remark", "", "  2026-08-20..2026-08-20"]
    assert read_closed_days(lines) == (
        Closed(day("2026-08-03"), day("2026-08-03"), ""),
        Closed(day("2026-08-10"), day("2026-08-14"), "summer works"),
        Closed(day("2026-08-20"), day("2026-08-20"), ""),
    )


@pytest.mark.parametrize("line", ["3/8/2026", "2026-08-14..2026-08-10", "2026-08-10...", "2026-08-10..x", "..x"])
def test_what_is_no_day_is_refused_with_its_line(line: str) -> None:
    with pytest.raises(Refusal) as refusal:
        read_closed_days(["2026-08-03", line])
    assert refusal.value.message.startswith(f"line 2: “{line}” is not a closed day; give a day such as 2026-08-03, or")
