import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.parsing import is_blank, plain, quoted, read_notes, read_text, tidy


@pytest.mark.parametrize(
    "text, line",
    [("  a \t b\u00a0c\n", "a b c"), ("a\u200bb\ufeff", "ab"), ("\uff21\uff11", "A1"), ("Zoë", "Zoë"), ("", "")],
)
def test_tidied_to_one_line(text, line):
    assert tidy(text) == line


def test_characters_that_no_keyboard_gives_are_refused(refusal):
    refused = refusal(tidy, "a\x00b")
    assert refused.code == "control-character"
    assert "\x00" not in refused.message


@pytest.mark.parametrize("text, even", [("Éàß", "eass"), ("ABC", "abc"), ("Þór", "thor")])
def test_plain_has_no_accents(text, even):
    assert plain(text) == even


@pytest.mark.parametrize("text", ["", " ", "-", " -- ", "\u2013", "\t\n", " " * 20])
def test_blank(text):
    assert is_blank(text)


@pytest.mark.parametrize("text", ["0", "a", "---", "- a", "                x"])
def test_not_blank(text):
    assert not is_blank(text)


def test_notes_keep_their_lines():
    assert read_notes(" one \r\n two  words\n\n", most=20) == "one\ntwo words"
    assert read_text(" one \n two ", most=7) == "one two"


def test_too_long_is_refused_not_cut(refusal):
    assert refusal(read_text, "x" * 8, most=7).details == {"most": 7}
    assert refusal(read_notes, "x" * 8, most=7).code == "text-too-long"


def test_quoted_is_short_and_printable():
    assert quoted("a\x07b") == "\u2018a\ufffdb\u2019"
    assert quoted("x" * 40) == f"\u2018{'x' * 40}\u2019"
    assert quoted("x" * 41) == f"\u2018{'x' * 39}\u2026\u2019"


@given(text=st.text(max_size=60))
def test_quoted_is_always_fit_to_show(text):
    assert quoted(text).isprintable() and len(quoted(text)) <= 42


@given(text=st.text(max_size=60))
def test_tidying_twice_is_tidying_once(text):
    try:
        line = tidy(text)
    except Refusal:
        return
    assert tidy(line) == line
