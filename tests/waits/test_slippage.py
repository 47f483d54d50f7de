"""Stitches out against their window, day by day from the target. The counting is our own."""

from datetime import date, timedelta

from caseload.waits.audit import Window, figures
from caseload.waits.figures import Slippage
from caseload.waits.rows import Period
from caseload.waits.terms import Clock, End

MARCH = Period(date(2026, 3, 1), date(2026, 3, 31))
TARGET = date(2026, 3, 10)


def window(
    out: int | None, ended: str = End.SEEN, *, latest: int = 2, target_on: date = TARGET, number: int = 1
) -> Window:
    """Open from two days before the target; `out` is the day from the target on which the wait stopped."""
    day = timedelta(days=1)
    stopped_on = None if out is None else target_on + out * day
    return Window(target_on - 2 * day, target_on, target_on + latest * day, stopped_on, ended, number)


def slippage(*windows: Window) -> Slippage | None:
    return figures(Clock.STITCHES_OUT, MARCH, [], (), {}, windows, shown_from={}).slippage


def test_each_is_early_inside_or_late_by_its_own_window():
    found = slippage(window(-3), window(0, number=4), window(4), window(4, latest=7), window(8, latest=7))
    assert found is not None and found[:3] == (1, 5, 2)
    assert found.by_day == ((-3, 1), (0, 4), (4, 2), (8, 1))
    assert found.outside == ((-3, 1), (4, 1), (8, 1))
    assert found.windows == ((-2, 2), (-2, 7))


def test_who_still_waits_or_ended_otherwise_is_counted_and_has_no_day():
    late_on = date(2026, 3, 30)
    found = slippage(
        window(None, End.WAITING), window(None, End.WAITING, target_on=late_on), window(3, target_on=late_on),
        window(1, End.DIED),
    )  # fmt: skip
    assert found is not None and (found.overdue, found.ahead, found.ended_otherwise) == (1, 2, 1)
    assert found.by_day == found.outside == ()


def test_a_target_day_of_another_month_is_not_counted():
    assert slippage(window(0, target_on=date(2026, 4, 1))) == Slippage(0, 0, 0, 0, 0, 0, ())
