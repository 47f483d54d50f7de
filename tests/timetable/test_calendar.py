"""Open days of a site: weekdays, public holidays, closures, and the stretch that is known. Common practice."""

from datetime import date

import pytest

from caseload.errors import Refusal
from caseload.timetable import calendar, regions
from caseload.timetable.calendar import Closed, OpenDays
from caseload.timetable.plan import Reason
from caseload.timetable.regions import Region, holidays_of, open_days, region_named, regions_from_json
from tests.timetable.builders import ENGLAND, REGIONS, day

WORKS = Closed(day("2026-03-09"), day("2026-03-17"), "works")


def site(*closures: Closed, weekdays: tuple[int, ...] = (0, 1)) -> OpenDays:
    """A site that opens on Mondays and Tuesdays of 2026."""
    return OpenDays(frozenset(weekdays), {}, date(2026, 1, 1), date(2026, 12, 31), closures)


def test_an_open_day_has_no_reason_to_be_closed() -> None:
    assert ENGLAND.is_open(day("2026-04-02")) and ENGLAND.why_closed(day("2026-04-02")) is None


@pytest.mark.parametrize(
    ("on", "reason"),
    [
        ("2026-04-03", Reason("holiday", ("Good Friday",))),
        ("2026-04-04", Reason("weekday", (5,))),
        ("2028-01-01", Reason("no-holiday-data", (day("2020-01-01"), day("2027-12-31")))),
        ("2019-12-31", Reason("no-holiday-data", (day("2020-01-01"), day("2027-12-31")))),
    ],
)
def test_a_closed_day_says_why(on: str, reason: Reason) -> None:
    assert ENGLAND.why_closed(day(on)) == reason


@pytest.mark.parametrize(
    ("on", "is_open"), [("2026-03-03", True), ("2026-03-09", False), ("2026-03-17", False), ("2026-03-23", True)]
)
def test_a_closure_includes_both_its_ends(on: str, is_open: bool) -> None:
    assert site(WORKS).is_open(day(on)) is is_open


def test_a_closure_gives_its_reason() -> None:
    assert site(WORKS).why_closed(day("2026-03-10")) == Reason("closure", ("works",))


def test_the_known_stretch_includes_both_its_ends() -> None:
    assert ENGLAND.covers(day("2020-01-01"), day("2027-12-31"))
    assert not ENGLAND.covers(day("2019-12-31"), day("2020-02-01"))
    assert not ENGLAND.covers(day("2027-12-01"), day("2028-01-01"))


def test_open_days_of_a_stretch_include_both_ends() -> None:
    assert site().open_days(day("2026-03-02"), day("2026-03-09")) == (
        day("2026-03-02"),
        day("2026-03-03"),
        day("2026-03-09"),
    )


def test_a_stretch_that_ends_before_it_begins_has_no_open_day() -> None:
    assert site().open_days(day("2026-03-03"), day("2026-03-02")) == ()


def test_a_stretch_is_cut_to_what_is_known() -> None:
    assert site().open_days(day("2026-12-28"), day("2027-01-05")) == (day("2026-12-28"), day("2026-12-29"))
    assert site().open_days(day("2025-12-01"), day("2026-01-05")) == (day("2026-01-05"),)


@pytest.mark.parametrize(
    ("target", "nearest"),
    [
        ("2026-03-02", "2026-03-02"),
        ("2026-03-05", "2026-03-03"),
        ("2026-03-06", "2026-03-09"),
        ("2026-03-07", "2026-03-09"),
    ],
)
def test_the_nearest_open_day_the_later_on_a_tie(target: str, nearest: str) -> None:
    assert site().nearest_inside(day("2026-03-02"), day("2026-03-10"), day(target)) == day(nearest)


def test_no_open_day_inside_is_none_and_never_one_outside() -> None:
    assert site().nearest_inside(day("2026-03-04"), day("2026-03-08"), day("2026-03-08")) is None


def test_the_first_open_day_after_a_closure() -> None:
    assert site(WORKS).first_after(day("2026-03-05")) == day("2026-03-23")
    assert site().first_after(day("2026-03-02")) == day("2026-03-03")


def test_no_open_day_is_known_after_the_last_one() -> None:
    assert site().first_after(day("2026-12-29")) is None
    assert site().first_after(day("2030-01-01")) is None


def test_the_first_known_open_day_follows_a_day_before_the_known_stretch() -> None:
    assert site().first_after(day("2020-01-01")) == day("2026-01-05")


def test_the_next_open_days_come_in_order_and_only_so_many() -> None:
    assert site().next_open_days(day("2026-03-02"), 2) == (day("2026-03-03"), day("2026-03-09"))


def test_a_site_that_never_opens_again_has_no_next_day() -> None:
    never = OpenDays(frozenset(), {}, date(2020, 1, 1), date(2099, 12, 31))
    assert never.first_after(day("2026-01-01")) is None


@pytest.mark.parametrize(("closed_for", "found"), [(400, False), (399, True)])
def test_the_search_ahead_ends_after_400_days(closed_for: int, found: bool) -> None:
    last = date.fromordinal(day("2026-01-01").toordinal() + closed_for)
    days = OpenDays(frozenset(range(7)), {}, date(2020, 1, 1), date(2099, 12, 31), (Closed(day("2026-01-02"), last),))
    assert (days.first_after(day("2026-01-01")) is not None) is found


def test_a_calendar_remembers_and_forgets_without_changing_an_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calendar, "REMEMBERED", 2)
    days = site()
    answers = [days.first_after(day(f"2026-03-{number:02}")) for number in range(1, 20)]
    assert answers == [site().first_after(day(f"2026-03-{number:02}")) for number in range(1, 20)]
    assert len(days._remembered) <= 2


def test_an_empty_answer_is_remembered_too() -> None:
    days, asked = site(), []
    for _ in range(2):
        assert days.recall("key", lambda: asked.append(1) or ()) == ()
    assert asked == [1]


def test_two_calendars_are_never_the_same() -> None:
    assert site() != site()


def test_an_unknown_region_is_refused_with_the_known_ones() -> None:
    with pytest.raises(Refusal, match="GB-ENG \\(England & Wales\\), GB-SCT \\(Scotland\\), GB-NIR") as refused:
        region_named(REGIONS, "GB")
    assert refused.value.code == "unknown-region" and refused.value.details == {"field": "region"}


def test_regions_keep_their_own_holidays() -> None:
    scotland, ireland = (holidays_of(region_named(REGIONS, code)) for code in ("GB-SCT", "GB-NIR"))
    assert day("2026-04-06") not in scotland and day("2026-01-02") in scotland
    assert day("2026-03-17") in ireland and day("2026-07-13") in ireland and day("2026-07-12") not in ireland


def test_two_holidays_moved_onto_one_another_leave_the_weekend() -> None:
    scotland = holidays_of(region_named(REGIONS, "GB-SCT"))
    assert {on for on in scotland if day("2021-12-31") <= on < day("2022-01-08")} == {
        day("2022-01-03"),
        day("2022-01-04"),
    }
    assert "substitute day" in scotland[day("2023-01-02")] and day("2023-01-01") not in scotland


def test_holidays_stop_where_the_region_stops() -> None:
    known = holidays_of(region_named(REGIONS, "GB-ENG"))
    assert min(known) == day("2020-01-01") and max(known) == day("2027-12-28")


def test_a_region_opens_on_weekdays_unless_told_otherwise() -> None:
    england = region_named(REGIONS, "GB-ENG")
    assert open_days(england).weekdays == frozenset({0, 1, 2, 3, 4})
    assert open_days(england, (WORKS,), frozenset({5})).open_days(day("2026-03-09"), day("2026-03-21")) == (
        day("2026-03-21"),
    )


def test_the_last_known_day_can_be_the_next_open_one() -> None:
    every_day = site(weekdays=tuple(range(7)))
    assert every_day.first_after(day("2026-12-30")) == day("2026-12-31")
    assert every_day.first_after(day("2026-12-31")) is None


def test_a_region_is_read_with_all_it_says() -> None:
    row = {
        "title": "Wales", "country": "GB", "subdivision": "WLS",
        "covered_from": "2024-01-01", "covered_until": "2025-12-26",
    }  # fmt: skip
    (region,) = regions_from_json({"W": row}).values()
    assert region == Region("W", "Wales", "GB", "WLS", day("2024-01-01"), day("2025-12-26"))
    assert (min(holidays_of(region)), max(holidays_of(region))) == (day("2024-01-01"), day("2025-12-26"))


@pytest.mark.parametrize(
    ("listed", "kept"),
    [
        ({"2026-12-26": "Boxing Day", "2026-12-28": "Boxing Day (observed)"}, {"2026-12-28"}),
        ({"2026-12-26": "Boxing Day", "2026-12-28": "Christmas Day (observed)"}, {"2026-12-26", "2026-12-28"}),
        ({"2026-04-05": "Easter Sunday"}, {"2026-04-05"}),
        ({"2026-12-25": "Boxing Day", "2026-12-28": "Boxing Day (observed)"}, {"2026-12-25", "2026-12-28"}),
        ({"2021-12-26": "Boxing Day", "2021-12-29": "Boxing Day (observed)"}, {"2021-12-29"}),
        ({"2021-12-26": "Boxing Day", "2021-12-30": "Boxing Day (observed)"}, {"2021-12-26", "2021-12-30"}),
    ],
)
def test_a_weekend_holiday_goes_only_for_its_own_substitute_within_three_days(
    monkeypatch: pytest.MonkeyPatch, listed: dict[str, str], kept: set[str]
) -> None:
    monkeypatch.setattr(regions, "_listed", lambda region: {day(on): name for on, name in listed.items()})
    assert set(map(str, holidays_of(REGIONS["GB-ENG"]))) == kept
