"""Times of day as people type them."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from caseload.errors import Refusal
from caseload.parsing.times import read_time


@pytest.mark.parametrize(
    ("typed", "minute"),
    [
        ("9", 540),
        ("9:00", 540),
        ("09.20", 560),
        ("0900", 540),
        ("13h20", 800),
        (" 7:05 ", 425),
        ("0", 0),
        ("24:00", 1440),
    ],
)
def test_a_time_as_typed_is_a_minute_of_the_day(typed, minute):
    assert read_time(typed) == minute


@pytest.mark.parametrize("typed", ["noon", "25:00", "9:60", "24:01", "9:5", "-1", "", "12345"])
def test_what_is_no_time_is_refused_with_an_example(typed):
    with pytest.raises(Refusal, match="type it like 9:00") as refused:
        read_time(typed)
    assert refused.value.code == "time-unreadable"


@given(some.integers(0, 1440))
def test_every_minute_as_written_is_read(minute):
    assert read_time(f"{minute // 60:02}:{minute % 60:02}") == minute


@given(some.text(max_size=12))
def test_whatever_is_typed_is_read_or_refused(typed):
    try:
        assert 0 <= read_time(typed) <= 1440
    except Refusal as refused:
        assert refused.message
