"""Published calendars and what they do to a window: rows T01-T10 and C01-C08 of the table of checks.

Bank holidays: the official list for England and Wales (copy of the official JSON, 17 Aug 2025). Windows: common
practice (10 to 14 days), counted over all 992 working surgery days from 2 Jan 2024 to 30 Nov 2027.
"""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from caseload.timetable.calendar import OpenDays
from caseload.timetable.regions import holidays_of, open_days
from caseload.timetable.terms import Mark
from tests.timetable.builders import ENGLAND, REGIONS, TEN_TO_FOURTEEN, after, day, episode, plan, the, window_of

OFFICIAL = {
    2024: "1 Jan, 29 Mar, 1 Apr, 6 May, 27 May, 26 Aug, 25 Dec, 26 Dec",
    2025: "1 Jan, 18 Apr, 21 Apr, 5 May, 26 May, 25 Aug, 25 Dec, 26 Dec",
    2026: "1 Jan, 3 Apr, 6 Apr, 4 May, 25 May, 31 Aug, 25 Dec, 28 Dec",
    2027: "1 Jan, 26 Mar, 29 Mar, 3 May, 31 May, 30 Aug, 27 Dec, 28 Dec",
}
SATURDAYS_TOO = frozenset(range(6))


def surgery_days() -> Iterator[date]:
    return iter(ENGLAND.open_days(date(2024, 1, 2), date(2027, 11, 30)))


def booked_day(surgery_on: date, window: tuple[int, int, int]) -> int | None:
    """The number of the day that the calendar proposes for a window."""
    earliest, target, latest = (after(days, surgery_on) for days in window)
    on = ENGLAND.nearest_inside(earliest, latest, target)
    return (on - surgery_on).days if on else None


@pytest.mark.parametrize("year", OFFICIAL)
def test_c01_the_bank_holidays_are_those_of_the_official_list(year: int) -> None:
    listed = {datetime.strptime(f"{text} {year}", "%d %b %Y").date() for text in OFFICIAL[year].split(", ")}
    assert {on for on in ENGLAND.holidays if on.year == year} == listed


@pytest.mark.parametrize(("year", "count"), [(2024, 254), (2025, 253), (2026, 253), (2027, 253)])
def test_c02_each_year_has_its_known_number_of_working_days(year: int, count: int) -> None:
    assert len(ENGLAND.open_days(date(year, 1, 1), date(year, 12, 31))) == count


def test_c03_only_the_substitute_of_a_weekend_holiday_is_closed() -> None:
    saturdays = open_days(REGIONS["GB-ENG"], weekdays=SATURDAYS_TOO)
    assert saturdays.is_open(date(2026, 12, 26)) and not saturdays.is_open(date(2026, 12, 28))
    assert holidays_of(REGIONS["GB-ENG"])[date(2026, 12, 28)] == "Boxing Day (substitute day)"


def test_c04_good_friday_2027_is_in_march() -> None:
    assert date(2027, 3, 26) in ENGLAND.holidays and date(2027, 4, 2) not in ENGLAND.holidays


def test_c05_a_day_after_the_list_ends_is_not_open_and_says_so() -> None:
    assert not ENGLAND.is_open(date(2028, 1, 5))
    assert ENGLAND.why_closed(date(2028, 1, 5)).code == "no-holiday-data"
    timetable = plan(episode(date(2027, 12, 20)))
    assert Mark.BEYOND_HOLIDAY_DATA in timetable.marks and the(timetable, "stitches-out").proposed_on is None


@pytest.mark.parametrize(
    ("on", "iso"),
    [
        ("2024-12-30", (2025, 1, 1)),
        ("2025-12-29", (2026, 1, 1)),
        ("2027-01-01", (2026, 53, 5)),
        ("2027-01-04", (2027, 1, 1)),
    ],
)
def test_c06_and_e2_iso_weeks_at_the_turn_of_a_year(on: str, iso: tuple[int, int, int]) -> None:
    assert tuple(day(on).isocalendar()) == iso


def test_t01_a_window_over_easter_keeps_its_target() -> None:
    follow_up = the(plan(episode(day("2026-03-20")), rules=TEN_TO_FOURTEEN), "stitches-out")
    assert window_of(follow_up) == (day("2026-03-30"), day("2026-04-01"), day("2026-04-03"))
    assert not ENGLAND.is_open(follow_up.latest_on) and follow_up.proposed_on == day("2026-04-01")


@pytest.mark.parametrize(("surgery_on", "only"), [("2026-03-23", "2026-04-02"), ("2026-03-24", "2026-04-07")])
def test_t02_and_t03_a_window_with_one_open_day(surgery_on: str, only: str) -> None:
    follow_up = the(plan(episode(day(surgery_on)), rules=TEN_TO_FOURTEEN), "stitches-out")
    assert ENGLAND.open_days(follow_up.earliest_on, follow_up.latest_on) == (day(only),)
    assert follow_up.proposed_on == day(only)


def test_t07_christmas_does_not_roll_the_day_forward() -> None:
    follow_up = the(plan(episode(day("2025-12-11")), rules=TEN_TO_FOURTEEN), "stitches-out")
    assert follow_up.proposed_on == day("2025-12-23")


def test_t08_every_proposed_day_lies_in_the_window_and_falls_as_counted() -> None:
    days = Counter(booked_day(on, (10, 12, 14)) for on in surgery_days())
    assert days == {10: 5, 11: 181, 12: 581, 13: 206, 14: 19}
    assert days.total() == 992


@pytest.mark.parametrize(
    ("window", "empty"), [((12, 13, 14), 16), ((11, 12, 14), 5), ((10, 11, 12), 25), ((13, 13, 14), 18)]
)
def test_t09_a_short_window_is_sometimes_empty(window: tuple[int, int, int], empty: int) -> None:
    assert sum(booked_day(on, window) is None for on in surgery_days()) == empty


def test_a6_open_days_inside_ten_to_fourteen() -> None:
    held = Counter(len(ENGLAND.open_days(after(10, on), after(14, on))) for on in surgery_days())
    assert held == {1: 11, 2: 48, 3: 559, 4: 203, 5: 171}


def test_a6_day_14_is_closed_on_28_surgery_days_and_day_12_on_411() -> None:
    closed = Counter(days for on in surgery_days() for days in (10, 12, 14) if not ENGLAND.is_open(after(days, on)))
    assert closed == {10: 430, 12: 411, 14: 28}


def test_a_clinic_open_on_tuesdays_only_misses_197_of_992_windows() -> None:
    tuesdays = OpenDays(frozenset({1}), ENGLAND.holidays, ENGLAND.covered_from, ENGLAND.covered_until)
    missed = [on for on in surgery_days() if not tuesdays.open_days(after(12, on), after(16, on))]
    assert len(missed) == 197


@pytest.mark.parametrize(("surgery_on", "on"), [("2024-02-15", "2024-02-29"), ("2025-02-15", "2025-03-01")])
def test_t10_fourteen_days_over_a_leap_day(surgery_on: str, on: str) -> None:
    assert the(plan(episode(day(surgery_on))), "stitches-out").target_on == day(on)


@pytest.mark.parametrize("surgery_on", ["2026-03-20", "2026-10-20"])
def test_e3_a_clock_change_moves_no_date(surgery_on: str) -> None:
    london, target_on = ZoneInfo("Europe/London"), the(plan(episode(day(surgery_on))), "stitches-out").target_on
    start, end = (datetime(on.year, on.month, on.day, tzinfo=london).timestamp() for on in (day(surgery_on), target_on))
    assert end - start != timedelta(days=14).total_seconds()
    assert target_on - day(surgery_on) == timedelta(days=14)
