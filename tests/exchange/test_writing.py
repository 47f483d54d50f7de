"""Files that we hand out: safe to open (OWASP on CSV injection, from memory), dates and numbers kept as such."""

import csv
import io
import zipfile
from datetime import UTC, date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from caseload.exchange import writing
from caseload.exchange.table import read_table
from caseload.exchange.writing import write_csv, write_xlsx

ROW = ["=1+1", "+44 7700 900123", -3, 2.5, date(2026, 4, 3), datetime(2026, 4, 3, 9, 30), True, False, None, 'Zoë, "Z"']
HEADERS = ["=cmd", *(f"h{n}" for n in range(len(ROW) - 1))]


def test_csv_is_quoted_defused_and_marked_for_spreadsheets():
    lines = write_csv(HEADERS[:6], [ROW[:6]])
    assert lines.startswith(b'\xef\xbb\xbf"\'=cmd","h0"')
    assert lines.endswith(b'"\'=1+1","\'+44 7700 900123",-3,2.5,"2026-04-03","2026-04-03 09:30"\r\n')


def test_csv_says_yes_and_no_and_leaves_nothing_empty():
    text = write_csv(HEADERS[6:], [ROW[6:]]).decode("utf-8-sig")
    assert list(csv.reader(io.StringIO(text)))[1] == ["yes", "no", "", 'Zoë, "Z"']


def test_a_workbook_keeps_days_and_numbers_and_holds_no_formula():
    data = write_xlsx(HEADERS, [ROW])
    sheet = zipfile.ZipFile(io.BytesIO(data)).read("xl/worksheets/sheet1.xml")
    day = date(2026, 4, 3)
    assert read_table(data).headers[0] == "=cmd"
    assert read_table(data).rows[0].cells == (
        "=1+1",
        "+44 7700 900123",
        -3.0,
        2.5,
        day,
        day,
        "yes",
        "no",
        None,
        ROW[-1],
    )
    assert b"<f>" not in sheet and b"hyperlink" not in sheet


def test_live_text_is_defused_inside_a_workbook_too():
    shared = zipfile.ZipFile(io.BytesIO(write_xlsx(["a"], [["=1+1"], ["http://example.org"]]))).read(
        "xl/sharedStrings.xml"
    )
    assert b"<t>'=1+1</t>" in shared


def test_the_same_rows_give_the_same_bytes():
    assert write_xlsx(HEADERS, [ROW]) == write_xlsx(HEADERS, [ROW])
    assert write_csv(HEADERS, [ROW]) == write_csv(HEADERS, [ROW])


def test_an_instant_is_written_as_its_local_time():
    data = write_xlsx(["at"], [[datetime(2026, 4, 3, 9, 30, tzinfo=UTC)]])
    assert b"46115.395833" in zipfile.ZipFile(io.BytesIO(data)).read("xl/worksheets/sheet1.xml")


def test_nothing_is_cut_silently(monkeypatch, refusal):
    assert refusal(write_xlsx, ["a"], [["x" * 32_767]]).code == "cell-too-long"
    assert write_xlsx(["a"], [["x" * 32_766]])
    monkeypatch.setattr(writing, "_LAST_ROW", 3)
    assert write_xlsx(["a"], [["x"], ["y"]])
    assert refusal(write_xlsx, ["a"], [["x"], ["y"], ["z"]]).code == "too-many-rows"


def test_a_workbook_without_columns():
    assert write_xlsx([], []).startswith(b"PK")


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=8).filter(str.strip)


CELLS = st.one_of(TEXT, st.dates(date(1901, 1, 1)), st.integers(-999, 999).map(float))


@settings(max_examples=10, deadline=None)
@given(rows=st.lists(st.lists(CELLS, min_size=2, max_size=2), min_size=1, max_size=4))
def test_any_table_written_as_a_workbook_reads_back(rows):
    read = read_table(write_xlsx(["a", "b"], rows))
    assert [list(row.cells) for row in read.rows] == rows


@pytest.mark.parametrize("sheet", ["list", "refused"])
def test_the_sheet_has_a_name(sheet):
    book = zipfile.ZipFile(io.BytesIO(write_xlsx(["a"], [], sheet=sheet))).read("xl/workbook.xml")
    assert f'<sheet name="{sheet}"'.encode() in book
