"""Sides and digits in the words of lists (common practice in English hospitals)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import read_digits, read_side
from caseload.timetable.terms import Digit, Side

L, R = Side.LEFT, Side.RIGHT
T, IX, M, RI, LI = Digit.THUMB, Digit.INDEX, Digit.MIDDLE, Digit.RING, Digit.LITTLE


@pytest.mark.parametrize("text", ["L", "l.", "Lt", "LH", "lhs", "left", "LEFT", "Left hand", "(L)", " left "])
def test_left(text):
    assert read_side(text) is L


@pytest.mark.parametrize("text", ["R", "r.", "Rt", "RH", "rhs", "right", "Right hand"])
def test_right(text):
    assert read_side(text) is R


@pytest.mark.parametrize(
    "text, code",
    [("", "side-missing"), ("both", "side-both"), ("L/R", "side-both"), ("Bilateral", "side-both"),
     ("up", "side-unknown"), ("lefty", "side-unknown"), ("hand", "side-unknown")],
)  # fmt: skip
def test_no_side(text, code, refusal):
    assert refusal(read_side, text).code == code


@pytest.mark.parametrize(
    "text, side, digits",
    [
        ("thumb", None, (T,)),
        ("Ring finger", None, (RI,)),
        ("IF", None, (IX,)),
        ("MF", None, (M,)),
        ("R ring", R, (RI,)),
        ("ring (R)", R, (RI,)),
        ("right ring finger", R, (RI,)),
        ("RRF", R, (RI,)),
        ("LLF", L, (LI,)),
        ("LRF", L, (RI,)),
        ("RLF", R, (LI,)),
        ("LIF", L, (IX,)),
        ("L RF", L, (RI,)),
        ("Rt thumb", R, (T,)),
        ("left-ring", L, (RI,)),
        ("trigger finger release R ring", R, (RI,)),
        ("ring and middle", None, (RI, M)),
        ("index, middle & ring", None, (IX, M, RI)),
        ("R index/middle", R, (IX, M)),
        ("R RF + MF", R, (RI, M)),
        ("ring, ring", None, (RI,)),
        ("left left little", L, (LI,)),
    ],
)
def test_digits_and_their_side(text, side, digits):
    assert read_digits(text) == (side, digits)


@pytest.mark.parametrize("text, digit", [("RF", RI), ("LF", LI)])
def test_two_senses_are_one_where_the_side_is_known(text, digit, refusal):
    assert refusal(read_digits, text).code == "digit-two-senses"
    assert read_digits(text, side_known=True) == (None, (digit,))


@pytest.mark.parametrize("text", ["4th finger", "fourth finger", "finger 4", "D4", "digit 5", "3", "2nd"])
def test_counted_fingers_are_refused_because_people_count_in_two_ways(text, refusal):
    refused = refusal(read_digits, text, side_known=True)
    assert refused.code == "digit-counted"
    assert "thumb, index, middle, ring or little" in refused.message


@pytest.mark.parametrize(
    "text, code",
    [
        ("", "digit-missing"),
        ("right hand", "digit-missing"),
        ("RT", "digit-two-senses"),
        ("toe", "digit-unknown"),
        ("not thumb", "digit-unknown"),
        ("R ring, L thumb", "side-both"),
        ("both thumbs", "side-both"),
        ("bilateral thumb", "side-both"),
        ("index-little", "digit-range"),
        ("index to ring", "digit-range"),
        ("MF\u2013LF", "digit-two-senses"),
    ],
)
def test_what_names_no_digit_for_certain_is_refused(text, code, refusal):
    assert refusal(read_digits, text).code == code


@given(side=st.sampled_from(Side), digits=st.lists(st.sampled_from(Digit), min_size=1, unique=True))
def test_words_read_back(side, digits):
    assert read_digits(f"{side} {' and '.join(digits)}") == (side, tuple(digits))


@given(text=st.text(max_size=20))
def test_any_text_is_read_or_refused(text):
    for read in (read_side, read_digits):
        try:
            read(text)
        except Refusal as refusal:
            assert refusal.message
