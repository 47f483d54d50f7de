"""Text files as hospitals export them (common practice): delimiters, encodings, quotes."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.exchange.delimited import decode, find_delimiter, read_delimited

NAMES = "Surname;Forename\r\nMÜLLER;Zoë\r\nO\u2019BYRNE;Siobhán\r\n"


def cells(data: bytes) -> list[list[object]]:
    return [row for _, row in read_delimited(data)]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    assert cells(NAMES.encode(encoding))[1:] == [["MÜLLER", "Zoë"], ["O\u2019BYRNE", "Siobhán"]]


def test_utf_16_of_either_byte_order():
    for encoding, mark in (("utf-16-le", b"\xff\xfe"), ("utf-16-be", b"\xfe\xff")):
        assert decode(mark + NAMES.encode(encoding)) == NAMES


@pytest.mark.parametrize(
    "data, code",
    [
        (b"a,b\n\x81\x8d,c\n", "encoding"),
        (b"\xff\xfea", "encoding"),
        (b"\xef\xbb\xbf\xff", "encoding"),
        (b"a,b\n\0,c\n", "nul-bytes"),
        ("a,b\n".encode("utf-16-le"), "nul-bytes"),
        (b"a,b\n\x07,c\n", "not-text"),
    ],
)
def test_what_is_no_text_is_refused(data, code, refusal):
    refused = refusal(cells, data)
    assert refused.code == code
    assert "XLSX" in refused.message


@pytest.mark.parametrize(
    "text, delimiter",
    [
        ("a,b,c\n1,2,3\n", ","),
        ("a;b;c\n1;2;3\n", ";"),
        ("a\tb\n1\t2\n", "\t"),
        ("name;born;closed\nSMITH, John;1,5;x, y\nSTONE, Ada;2,5;z\n", ";"),
        ("Theatre list, week 14, 2026\na;b;c;d\n1;2;3;4\n", ";"),
        ('"a","b;c"\n"d","e;f"\n', ","),
        ("alone\n1\n", ","),
        ("", ","),
        ("sep=;\na;b,c\n1;2\n", ";"),
    ],
)
def test_the_delimiter_is_the_one_under_which_rows_agree(text, delimiter):
    assert find_delimiter(text) == delimiter


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_and_lines_inside_quotes(end):
    assert cells(f'a,b{end}"one{end}two","say ""x"""{end}'.encode()) == [["a", "b"], [f"one{end}two", 'say "x"']]


@pytest.mark.parametrize(
    "text, row, why",
    [
        ('a,b\n"never closed,1\n2,3\n', 2, "never closed"),
        ('a,b\nx,y\n"Jo "Jack" Doe",1\n', 3, "not doubled"),
        ('a,b\n"' + "x" * 33_000 + '",1\n', 2, "32767"),
    ],
)
def test_broken_quotes_are_refused_with_their_row(text, row, why, refusal):
    refused = refusal(cells, text.encode())
    assert refused.code == "csv-broken"
    assert refused.details["row"] == row
    assert why in refused.message


@given(
    rows=st.lists(st.lists(st.text("ab ,;\t'\"\n\rü", max_size=6), min_size=2, max_size=5), min_size=1, max_size=5),
    delimiter=st.sampled_from(",;\t"),
)
def test_whatever_the_csv_module_writes_quoted_is_read(rows, delimiter):
    lines = io.StringIO(newline="")
    csv.writer(lines, delimiter=delimiter, quoting=csv.QUOTE_ALL).writerows(rows)
    assert cells(lines.getvalue().encode()) == rows
