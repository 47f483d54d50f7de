"""Workbooks, sound and hostile. The limits are ours; how bombs are built is common knowledge."""

import json
import subprocess
import sys
from datetime import date, datetime, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from caseload.errors import Refusal
from caseload.exchange import workbook as module
from caseload.exchange import xlsx_child
from caseload.exchange.workbook import Sheet, check_parts, read_workbook
from tests.exchange.workbooks import SHARED, SHEET, SPREADSHEET, altered, lying, with_rows, workbook

SOUND = workbook([["name", "on"], ["Ada", date(2026, 4, 3)]])


def cell(reference: bytes, value: bytes = b"1") -> bytes:
    return b'<c r="' + reference + b'"><v>' + value + b"</v></c>"


def test_cells_keep_their_kind():
    row = ["text", 9990000018, 2.5, date(2026, 4, 3), datetime(2026, 4, 3, 9, 30), True, False, None, "end"]
    day = date(2026, 4, 3)
    read = read_workbook(workbook([row]))
    assert read == Sheet([(1, ["text", 9990000018.0, 2.5, day, day, "yes", "no", None, "end"])], ())


def test_what_the_child_answers():
    row = [None, date(2026, 4, 3), datetime(2026, 4, 3, 9, 30), True, None]
    assert xlsx_child.read(workbook([[], row])) == {
        "rows": [(2, [["2026-04-03"], ["2026-04-03"], "yes"])],
        "others": [],
    }
    assert xlsx_child.read(workbook([])) == {"refused": "workbook-empty"}


def test_blank_rows_are_counted_and_blank_ends_are_cut():
    assert read_workbook(workbook([[], ["a", None, None], [], ["b"]])).rows == [(2, ["a"]), (4, ["b"])]


def test_the_first_visible_sheet_that_holds_something_is_read_and_the_others_are_named():
    assert read_workbook(workbook([], [["a"]], [["b"]])) == Sheet([(1, ["a"])], ("three",))
    assert read_workbook(workbook([["hidden"]], [["a"]], hidden=[0])).rows == [(1, ["a"])]


def test_an_empty_workbook_is_refused(refusal):
    assert refusal(read_workbook, workbook([], [])).code == "workbook-empty"


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(workbook([["a"]])[:-30], id="cut short"),
        pytest.param(workbook([["a"]])[:1000], id="half"),
        pytest.param(altered("xl/workbook.xml", lambda old: None), id="no workbook in it"),
        pytest.param(altered(SHEET, lambda old: None), id="no sheet in it"),
        pytest.param(altered(SHEET, lambda old: old[:-60]), id="broken XML"),
        pytest.param(
            with_rows(b'<row r="1">' + cell(b"A1") + cell(b"XFD1048576") + b"</row>"), id="a whole sheet wide"
        ),
    ],
)
def test_damaged_and_hostile_workbooks_are_refused(data, refusal):
    assert refusal(read_workbook, data).code == "workbook-unreadable"


def test_entities_are_not_expanded(refusal):
    rows = (
        f'<worksheet xmlns="{SPREADSHEET}"><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&x;</t></is></c></row>'
    )
    bomb = f'<!DOCTYPE a [<!ENTITY x "boom">]>{rows}</sheetData></worksheet>'.encode()
    assert refusal(read_workbook, altered(SHEET, lambda old: bomb)).code == "workbook-unreadable"


def test_a_bomb_is_known_by_the_directory_and_never_unpacked(refusal, monkeypatch):
    monkeypatch.setattr(module, "_run_child", None)
    bomb = altered(SHEET, lambda old: old + b" " * (101 * 1024 * 1024))
    assert len(bomb) < 200_000
    assert refusal(read_workbook, bomb).code == "workbook-too-big"


def test_a_bomb_whose_directory_lies_is_no_further_unpacked_than_it_says(refusal):
    bomb = lying(altered(SHEET, lambda old: old + b" " * (4 * 1024 * 1024)), SHEET, 1_000)
    check_parts(bomb)
    assert refusal(read_workbook, bomb).code == "workbook-unreadable"


def test_very_deep_xml_is_read_in_a_stream(refusal):
    assert refusal(read_workbook, with_rows(b"<row>" * 100_000)).code == "workbook-empty"


def test_an_archive_of_very_many_parts_is_refused(refusal, monkeypatch):
    monkeypatch.setattr(module, "MAX_PARTS", 3)
    assert refusal(check_parts, workbook([["a"]])).code == "workbook-too-big"


def test_one_long_text_named_by_very_many_cells_runs_into_the_limit_of_memory(refusal):
    shared = f'<sst xmlns="{SPREADSHEET}"><si><t>{"x" * 32_000}</t></si></sst>'.encode()
    rows = b"".join(b'<row r="%d"><c r="A%d" t="s"><v>0</v></c></row>' % (i, i) for i in range(1, 49_000))
    bomb = altered(SHARED, lambda old: shared, book=with_rows(rows))
    assert refusal(read_workbook, bomb).code in {"workbook-unreadable", "workbook-too-big"}


@pytest.mark.parametrize(
    "limit, value, rows, code",
    [
        ("MAX_ROWS", -98, [["a"], ["b"], ["c"]], "too-many-rows"),
        ("MAX_COLUMNS", 2, [["a", "b", "c"]], "too-many-columns"),
        ("MAX_CELLS", 3, [["a", "b"], ["c", "d"]], "workbook-too-big"),
        ("MAX_CHARACTERS", 5, [["abc"], ["def"]], "workbook-too-big"),
        ("MAX_TEXT", 3, [["abcd"]], "cell-too-long"),
    ],
)
def test_what_the_child_limits(limit, value, rows, code, monkeypatch):
    assert "rows" in xlsx_child.read(workbook(rows))
    monkeypatch.setattr(xlsx_child, limit, value)
    assert xlsx_child.read(workbook(rows)) == {"refused": code}


@pytest.mark.parametrize(
    "code", ["too-many-rows", "too-many-columns", "workbook-empty", "cell-too-long", "workbook-too-big"]
)
def test_what_the_child_refuses_the_parent_says_in_words(code, monkeypatch, refusal):
    monkeypatch.setattr(module, "_run_child", lambda data: json.dumps({"refused": code}))
    refused = refusal(read_workbook, workbook([["a"]]))
    assert refused.code == code
    assert refused.message.endswith(".")


@pytest.mark.parametrize("value, plain", [(float("nan"), "nan"), (time(9, 30), "09:30:00"), ("", None), (3, 3.0)])
def test_odd_cells(value, plain):
    assert xlsx_child._plain(value) == plain


def test_the_child_limits_itself_before_it_reads(monkeypatch, capsys):
    limits = []
    monkeypatch.setattr(xlsx_child.resource, "setrlimit", lambda kind, pair: limits.append((kind, pair)))
    monkeypatch.setattr(xlsx_child.sys, "stdin", type("Input", (), {"buffer": _Given(limits)}))
    xlsx_child.main()
    assert json.loads(capsys.readouterr().out)["rows"] == [[1, ["a"]]]


class _Given:
    """Hands out a workbook, and only to a process that has limited its memory, its time and its core files."""

    def __init__(self, limits: list[object]) -> None:
        self.limits = limits

    def read(self) -> bytes:
        assert len(self.limits) == 3
        return workbook([["a"]])


def test_a_child_that_lasts_too_long_is_ended(monkeypatch, refusal):
    monkeypatch.setattr(module, "_CHILD", (sys.executable, "-c", "while True: pass"))
    monkeypatch.setattr(module, "TIMEOUT", 0.2)
    assert refusal(read_workbook, workbook([["a"]])).code == "workbook-too-slow"


def test_the_child_cannot_take_more_memory_than_its_limit():
    greedy = "from caseload.exchange import xlsx_child as c; c.limit(); b'x' * (2 * c.MEMORY)"
    done = subprocess.run([sys.executable, "-c", greedy], capture_output=True, cwd=module._HOME)
    assert b"MemoryError" in done.stderr


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_a_workbook_with_any_byte_changed_is_read_or_refused(data):
    book = bytearray(SOUND)
    for _ in range(data.draw(st.integers(1, 3))):
        book[data.draw(st.integers(2, len(book) - 1))] = data.draw(st.integers(0, 255))
    try:
        read_workbook(bytes(book))
    except Refusal as refusal:
        assert refusal.message
