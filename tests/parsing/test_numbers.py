"""Measured numbers as people type them. The ways of writing are common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import read_decimal, read_whole


@pytest.mark.parametrize(
    ("text", "number"),
    [("24", 24), ("24.5", 24.5), ("24,5", 24.5), (" 24,25 kg", 24.25), ("42cm", 42), ("-5", -5), ("\u22125°", -5),
     ("+3", 3), ("０", 0)],
)  # fmt: skip
def test_a_number_is_read_with_comma_or_point_and_its_unit(text, number):
    assert read_decimal(text) == number


@pytest.mark.parametrize("text", ["", "x", "1.234", "12345", "1,2,3", "4-5", "nan", "1e3", "5 mm", "٣", "--5"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(Refusal) as refused:
        read_decimal(text)
    assert refused.value.code == "number-unreadable"


def test_a_whole_number_has_no_places():
    assert (read_whole("85"), read_whole("85,0"), read_whole("-10°")) == (85, 85, -10)
    with pytest.raises(Refusal) as refused:
        read_whole("85.5")
    assert refused.value.code == "number-not-whole"


@given(st.decimals(-9999, 9999, places=2), st.sampled_from(".,"))
def test_whatever_has_two_places_reads_as_itself(number, mark):
    assert read_decimal(str(number).replace(".", mark)) == float(number)
