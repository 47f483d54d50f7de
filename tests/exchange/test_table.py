from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.exchange import table
from caseload.exchange.table import Row, Table, read_table
from caseload.exchange.writing import write_csv
from tests.exchange.workbooks import workbook


def test_a_plain_table():
    assert read_table(b"a,b\n1,\n\n,2\n") == Table(("a", "b"), (Row(2, ("1", None)), Row(4, (None, "2"))))


def test_titles_and_blank_lines_above_the_header_are_passed_over():
    read = read_table(b"\nTheatre list;;;\nWeek;14;;\n\na;b;c;d\n1;2;3;4\n")
    assert read.headers == ("a", "b", "c", "d")
    assert read.header_number == 5
    assert read.rows == (Row(6, ("1", "2", "3", "4")),)


def test_rows_are_numbered_as_a_spreadsheet_shows_them():
    read = read_table(b'a,b\n"one\ntwo",x\n , \n3,y\n')
    assert [row.number for row in read.rows] == [2, 4]


def test_short_rows_are_filled_and_what_stands_beyond_is_kept():
    read = read_table(b"a,b,c\n1\n1,2,3,,5\n1,2,3,,\n")
    assert read.rows == (Row(2, ("1", None, None)), Row(3, ("1", "2", "3"), (None, "5")), Row(4, ("1", "2", "3")))


def test_headers_are_distinct_and_named():
    assert read_table(b" a  b ,,x,x,x (2),\n1,2,3,4,5,\n").headers == ("a b", "column 2", "x", "x (2)", "x (2) (2)")


def test_cells_that_were_defused_are_themselves_again():
    assert read_table(b"'=a,b\n'+44,O'Brien\n") == Table(("=a", "b"), (Row(2, ("+44", "O'Brien")),))


def test_header_only():
    assert read_table(b"a,b\n") == Table(("a", "b"), ())


def test_a_workbook_is_known_by_its_content():
    read = read_table(workbook([["List"], [], ["name", "on"], ["Ada", date(2026, 4, 3)]]))
    assert read == Table(("name", "on"), (Row(4, ("Ada", date(2026, 4, 3))),), 3)


@pytest.mark.parametrize(
    "data, code",
    [
        (b"", "file-empty"),
        (b" \n\n", "file-empty"),
        (b",,\n,,\n", "file-empty"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "old-workbook"),
        (b"%PDF-1.7", "not-a-table"),
        (b"{\\rtf1", "not-a-table"),
        (b"\x89PNG\r\n", "not-a-table"),
        (b"\xff\xd8\xff\xe0", "not-a-table"),
        (b"\xef\xbb\xbf <html><table>", "markup"),
        (b"<?xml version='1.0'?>", "markup"),
        (b"PK\x05\x06" + b"\0" * 18, "workbook-unreadable"),
    ],
)
def test_what_is_no_list_is_refused(data, code, refusal):
    assert refusal(read_table, data).code == code


def test_limits_of_size(monkeypatch, refusal):
    monkeypatch.setattr(table, "MAX_BYTES", 20)
    assert read_table(b"a,b\n" + b"1,2\n" * 4).rows
    assert refusal(read_table, b"a,b\n" + b"1,2\n" * 5).code == "file-too-big"


def test_limit_of_rows(monkeypatch, refusal):
    monkeypatch.setattr(table, "MAX_ROWS", 60)
    assert len(read_table(b"a,b\n" + b"1,2\n" * 60).rows) == 60
    assert refusal(read_table, b"a,b\n" + b"1,2\n" * 61).code == "too-many-rows"


def test_limit_of_columns(refusal):
    assert len(read_table(b",".join([b"x"] * 200)).headers) == 200
    assert refusal(read_table, b"a,b\n" + b",".join([b"x"] * 201)).code == "too-many-columns"


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cf"]), min_size=1, max_size=8)
CELLS = st.one_of(st.none(), st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=8), WORDS)


@given(data=st.data())
def test_any_table_written_as_csv_reads_back(data):
    headers = data.draw(st.lists(WORDS.map(str.strip).filter(str.isalnum), min_size=1, max_size=5, unique=True))
    headers = [f"{place}{header}" for place, header in enumerate(headers)]
    width = len(headers)
    rows = data.draw(st.lists(st.lists(CELLS, min_size=width, max_size=width), max_size=6))
    read = read_table(write_csv(headers, rows))
    filled = [tuple(cell or None for cell in row) for row in rows if any(cell and cell.strip() for cell in row)]
    assert [_without_blank_end(row.cells) for row in read.rows] == [_without_blank_end(row) for row in filled]
    assert len(read.headers) == width


def _without_blank_end(cells):
    """Blank text at the end of a row is nothing."""
    last = max((place for place, cell in enumerate(cells, 1) if cell and cell.strip()), default=0)
    return cells[:last]


@given(data=st.binary(max_size=200))
def test_random_bytes_are_read_or_refused(data):
    _read_or_refuse(data)


@given(
    text=st.text("ab,;\t\"'\n\r =<\ufeff\0é", max_size=60), encoding=st.sampled_from(["utf-8", "utf-16", "utf-16-be"])
)
def test_random_text_is_read_or_refused(text, encoding):
    _read_or_refuse(text.encode(encoding))


def _read_or_refuse(data: bytes) -> None:
    try:
        read = read_table(data)
    except Refusal as refusal:
        assert refusal.message
    else:
        assert read.headers and len(set(read.headers)) == len(read.headers)
        assert all(len(row.cells) == len(read.headers) for row in read.rows)
