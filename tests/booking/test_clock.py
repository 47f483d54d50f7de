"""The wall clock of a site. Clock changes: the system's zone data; which of two times is meant: RFC 5545."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as some

from caseload.booking.clock import exists, instant_of, local_of
from caseload.booking.slots import DAY, clock
from caseload.errors import Refusal

LONDON = "Europe/London"
FORWARD, BACK = date(2026, 3, 29), date(2026, 10, 25)
ZONES = some.sampled_from([LONDON, "Europe/Dublin", "Australia/Lord_Howe", "America/St_Johns", "UTC"])
DATES = some.dates(date(2024, 1, 1), date(2030, 12, 31))


def test_a_time_that_a_clock_change_leaves_out_is_refused_by_name() -> None:
    with pytest.raises(Refusal, match="Sun 29 Mar 2026 .* leave out 01:30") as refused:
        instant_of(FORWARD, 90, LONDON)
    assert refused.value.code == "no-such-time" and refused.value.details == {"field": "start"}


@pytest.mark.parametrize(("minute", "is_there"), [(59, True), (60, False), (119, False), (120, True)])
def test_exactly_the_missing_hour_is_missing(minute: int, is_there: bool) -> None:
    assert exists(FORWARD, minute, LONDON) is is_there


def test_the_end_of_a_day_is_midnight() -> None:
    assert instant_of(BACK, DAY, LONDON) == datetime(2026, 10, 26, tzinfo=UTC)


@pytest.mark.parametrize(("hour", "local"), [(0, (BACK, 90)), (1, (BACK, 90)), (23, (BACK, 23 * 60 + 30))])
def test_both_occurrences_of_an_hour_show_the_same_local_time(hour: int, local: tuple[date, int]) -> None:
    assert local_of(datetime(2026, 10, 25, hour, 30, tzinfo=UTC), LONDON) == local


def test_each_site_has_a_clock_of_its_own_whatever_that_of_the_machine() -> None:
    at = instant_of(date(2026, 2, 3), 9 * 60, "America/St_Johns")
    assert at == datetime(2026, 2, 3, 12, 30, tzinfo=UTC) and at.tzinfo is UTC
    assert exists(date(2026, 2, 3), 9 * 60, "America/St_Johns")
    assert not exists(date(2026, 3, 8), 2 * 60 + 30, "America/St_Johns")


@given(DATES, some.integers(0, DAY - 1), ZONES)
def test_what_exists_comes_back_as_it_went(on: date, minute: int, zone: str) -> None:
    if exists(on, minute, zone):
        assert local_of(instant_of(on, minute, zone), zone) == (on, minute)
    else:
        with pytest.raises(Refusal, match=clock(minute)):
            instant_of(on, minute, zone)
