"""NHS numbers. Sources: check rows I01-I03 and E6 (docs.rs nhs-number for the method and the examples; python-stdnum as
reference; the placeholder rule is ours).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.gb import nhs

from caseload.errors import Refusal
from caseload.parsing import Identifier, Scheme, read_hospital_number, read_identifier, read_nhs_number

USABLE = ["9990000018", "9990000026", "9990000034", "9990000042", "9990000050", "9990000069"]


def test_i01_a_valid_number_in_any_spacing():
    for typed in ("943 476 5919", "943-476-5919", "9434765919", "\u00a0943\u00a0476\u00a05919 "):
        assert read_nhs_number(typed) == "9434765919"


@pytest.mark.parametrize("typed", ["999 123 4560", "1234567890", "999 012 3456"])
def test_i02_a_wrong_check_digit(typed, refusal):
    assert refusal(read_nhs_number, typed).code == "nhs-number-check-digit"


@pytest.mark.parametrize("typed", [*USABLE, "943-476-5870", "401 023 2137"])
def test_i03_e6_numbers_that_exist(typed):
    assert read_nhs_number(typed) == typed.replace(" ", "").replace("-", "")


@pytest.mark.parametrize("stem", ["999000000", "999000014", "999000028", "999000031"])
@pytest.mark.parametrize("digit", range(10))
def test_e6_stems_without_a_number(stem, digit, refusal):
    assert refusal(read_nhs_number, f"{stem}{digit}").code == "nhs-number-check-digit"


@pytest.mark.parametrize("digit", range(10))
def test_i03_a_row_of_one_digit_passes_the_sum_and_is_refused_by_rule(digit, refusal):
    assert nhs.is_valid(str(digit) * 10)
    assert refusal(read_nhs_number, str(digit) * 10).code == "nhs-number-placeholder"


@pytest.mark.parametrize(
    "typed, said",
    [
        ("9.99E+09", "shortened"),
        ("101234567", "leading 0"),
        ("99900000189", "11 digits"),
        ("abc", "10 digits"),
        ("", "10"),
    ],
)
def test_what_is_amiss_is_said(typed, said, refusal):
    refused = refusal(read_nhs_number, typed)
    assert refused.code == "nhs-number-length"
    assert said in refused.message


@given(number=st.from_regex(r"[0-9]{10}", fullmatch=True))
def test_agrees_with_the_reference_library(number):
    try:
        accepted = read_nhs_number(number) == number
    except Refusal:
        accepted = False
    assert accepted == (nhs.is_valid(number) and len(set(number)) > 1)


@pytest.mark.parametrize("typed, value", [("fh 12345", "FH12345"), ("0012", "0012"), ("QS/44-1", "QS/44-1")])
def test_a_hospital_number_keeps_its_zeros(typed, value):
    assert read_hospital_number(typed) == value


@pytest.mark.parametrize(
    "typed, code",
    [("?", "hospital-number-shape"), ("12", "hospital-number-shape"), ("A" * 31, "hospital-number-shape"),
     ("000", "hospital-number-placeholder"), ("unknown", "hospital-number-placeholder")],
)  # fmt: skip
def test_no_hospital_number(typed, code, refusal):
    assert refusal(read_hospital_number, typed).code == code


def test_what_was_typed_stands_beside_the_normal_form():
    assert read_identifier(Scheme.NHS, " 999 000 0018") == Identifier(Scheme.NHS, "9990000018", "999 000 0018")
    assert read_identifier(Scheme.HOSPITAL, "fh 123") == Identifier(Scheme.HOSPITAL, "FH123", "fh 123")
