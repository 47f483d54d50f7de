"""Telephone numbers set aside for fiction: check row E7 (public lists quoting Ofcom); domains: E8 (RFC 2606)."""

import phonenumbers
import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import phone_key, read_email, read_phone

E7 = [
    ("07700 900000", "+447700900000"),
    ("07700 900999", "+447700900999"),
    ("020 7946 0123", "+442079460123"),
    ("01632 960000", "+441632960000"),
    ("01632 960999", "+441632960999"),
    ("08081 570000", "+448081570000"),
    ("03069 990000", "+443069990000"),
    ("029 2018 0123", "+442920180123"),
    ("028 9018 0123", "+442890180123"),
]


@pytest.mark.parametrize("typed, value", E7)
def test_e7_numbers_for_fiction_are_numbers(typed, value):
    assert read_phone(typed) == (value, typed)


@pytest.mark.parametrize(
    "typed",
    [
        "+44 7700 900123",
        "0044 7700 900123",
        "+44 (0)7700 900123",
        "7700900123",
        "(07700) 900-123",
        "07700 900123 ext 4",
    ],
)
def test_other_ways_to_write_it(typed):
    assert read_phone(typed) == ("+447700900123", typed)


def test_a_number_from_abroad():
    assert read_phone("+33 1 23 45 67 89").value == "+33123456789"


@pytest.mark.parametrize(
    "typed, code",
    [
        ("07700 900123 (daughter)", "phone-unreadable"),
        ("07700 900123 / 07700 900124", "phone-unreadable"),
        ("ring mum", "phone-unreadable"),
        ("", "phone-unreadable"),
        ("07700 900123" + " " * 2 + "ext 1234567", "phone-unreadable"),
        ("07700 90012", "phone-not-a-number"),
        ("0770090012", "phone-not-a-number"),
        ("999", "phone-not-a-number"),
        ("....", "phone-not-a-number"),
        ("07700 900124 07700 900125", "phone-not-a-number"),
    ],
)
def test_no_number(typed, code, refusal):
    assert refusal(read_phone, typed).code == code


@given(digits=st.from_regex(r"0[1-9][0-9]{9}", fullmatch=True))
def test_the_short_way_agrees_with_the_reference_library(digits):
    number = phonenumbers.parse(digits, "GB")
    value = phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)
    if phonenumbers.is_valid_number(number):
        assert read_phone(digits).value == value
    assert phone_key(digits) == value


@pytest.mark.parametrize(
    "typed, key",
    [
        ("07700 900123", "+447700900123"),
        ("07700 90", "+44770090"),
        ("+44 770", "+44770"),
        ("0044770", "+44770"),
        ("7700", "7700"),
        ("", ""),
        ("+", ""),
        ("mum", ""),
        ("1" * 60, "1" * 20),
    ],
)
def test_the_start_of_a_number_gives_the_start_of_its_key(typed, key):
    assert phone_key(typed) == key


@given(typed=st.text(max_size=40))
def test_the_key_never_fails_and_fits_its_column(typed):
    assert len(phone_key(typed)) <= 20


@pytest.mark.parametrize(
    "typed, address",
    [
        ("m.ashdown@example.org", "m.ashdown@example.org"),
        (" Ada+hand@Example.ORG ", "Ada+hand@example.org"),
        ("o'neil@mail.example.co.uk", "o'neil@mail.example.co.uk"),
    ],
)
def test_an_address(typed, address):
    assert read_email(typed) == address


@pytest.mark.parametrize(
    "typed",
    ["", "ada", "ada@", "@example.org", "ada@example", "ada at example.org", "a b@example.org", "a..b@example.org",
     ".a@example.org", "a.@example.org", "a@-example.org", "a@b@example.org", "a@example.org,b@example.org",
     f"{'a' * 65}@example.org", f"a@{'b' * 60}.{'c' * 60}.{'d' * 60}.{'e' * 60}.{'f' * 20}.org"],
)  # fmt: skip
def test_no_address(typed, refusal):
    assert refusal(read_email, typed).code == "email-shape"


@given(typed=st.text(max_size=40))
def test_any_text_is_read_or_refused(typed):
    for read in (read_phone, read_email):
        try:
            read(typed)
        except Refusal as refusal:
            assert refusal.message
