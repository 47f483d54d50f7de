"""A list of closed days: one ISO date or a range `2026-08-03..2026-08-14` a line, then a reason if there is one."""

from collections.abc import Iterable
from typing import Final

from caseload.timetable.calendar import Closed
from caseload.timetable.fields import read_day, refusal, shown

REMARK: Final = "#"
RANGE: Final = ".."


def read_closed_days(lines: Iterable[str]) -> tuple[Closed, ...]:
    """The closures of a list; empty lines and remarks (#) are passed over. Raises Refusal `unreadable`."""
    numbered = ((number, line.strip()) for number, line in enumerate(lines, start=1))
    return tuple(_closed(number, line) for number, line in numbered if line and not line.startswith(REMARK))


def _closed(number: int, line: str) -> Closed:
    days, _, reason = line.partition(" ")
    first, _, last = days.partition(RANGE)
    starts_on, ends_on = read_day(first), read_day(last or first)
    if starts_on is None or ends_on is None or ends_on < starts_on:
        right = "give a day such as 2026-08-03, or a range such as 2026-08-03..2026-08-14"
        raise refusal(f"line {number}", f"{shown(days)} is not a closed day", right)
    return Closed(starts_on, ends_on, reason.strip())
