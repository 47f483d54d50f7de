"""Formula safety. The dangerous first characters are those that OWASP lists for CSV injection (from memory):
= + - @, tab, carriage return, and their full-width forms.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.exchange.cells import cell_text, defuse, undefuse

LIVE = ["=1+1", "+44 7700", "-3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\uff1d1", "'=1", "''=1"]


@pytest.mark.parametrize("text", LIVE)
def test_what_could_run_starts_with_an_apostrophe(text):
    assert defuse(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "a=1", "O'Brien", "'twas", "7700", "a\tb", "'"])
def test_all_other_text_stays(text):
    assert defuse(text) == text == undefuse(text)


@given(text=st.text("'=+-@ \t\r\nab\uff1d", max_size=6))
def test_defused_text_reads_back(text):
    assert undefuse(defuse(text)) == text


@given(text=st.text(max_size=20))
def test_no_defused_text_starts_with_a_live_character(text):
    assert not defuse(text).lstrip().startswith(("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20"))


@pytest.mark.parametrize(
    "cell, text", [(None, ""), ("a", "a"), (date(2026, 4, 3), "2026-04-03"), (9990000018.0, "9990000018"), (2.5, "2.5")]
)
def test_cells_as_text(cell, text):
    assert cell_text(cell) == text
