import pytest

from caseload.exchange.operated import Problem, Severity
from caseload.exchange.refused_rows import reason, refused_csv, refused_table, refused_xlsx
from caseload.exchange.table import Table, read_table
from caseload.exchange.theatre_list import read_theatre_list
from tests.exchange.lists import FIXTURES, TODAY, codes


def refused_of(table: Table):
    rows = read_theatre_list(table, today=TODAY).rows
    return [(row.as_read, reason(row.problems)) for row in rows if row.refused]


def test_the_reason_names_columns_and_what_refuses_first():
    doubt = Problem("DOB", "x", "Look at it.", Severity.DOUBTFUL)
    wrong = Problem("Side", "y", "Write left or right.", Severity.REFUSED)
    whole = Problem("", "z", "Row 2 says the same.", Severity.REFUSED)
    assert reason([doubt, wrong, whole]) == "Side: Write left or right. Row 2 says the same. DOB: Look at it."


def test_the_columns_as_uploaded_and_the_reason():
    headers, rows = refused_table(["a", "b"], [({"a": "1"}, "why"), ({"b": "2", "beyond column 3": "x"}, "too")])
    assert headers == ["a", "b", "beyond column 3", "Reason refused"]
    assert rows == [["1", "", "", "why"], ["", "2", "x", "too"]]


def test_reasons_do_not_pile_up_when_a_file_comes_back_unmended():
    returned = ["a", "beyond column 12", "Reason refused"]
    headers, rows = refused_table(returned, [({"a": "1", "Reason refused": "old"}, "new")])
    assert headers == ["a", "Reason refused"]
    assert rows == [["1", "new"]]


def test_columns_beyond_stand_in_their_order():
    headers, _ = refused_table(["a"], [({"beyond column 10": "x", "beyond column 9": "y"}, "")])
    assert headers == ["a", "beyond column 9", "beyond column 10", "Reason refused"]


@pytest.mark.parametrize("write", [refused_csv, refused_xlsx])
def test_a_file_of_refused_rows_reads_back_with_the_same_refusals(write):
    table = read_table((FIXTURES / "dirty.csv").read_bytes())
    refused = refused_of(table)
    again = read_table(write(table.headers, refused))
    rows = read_theatre_list(again, today=TODAY).rows
    # The row that only repeated another stands alone now, and is sound.
    assert len(refused) == 33 and [codes(row) for row in rows if not row.refused] == [[]]
    kept = [(cells, why) for cells, why in refused if "says the same" not in why]
    assert [row.as_read | {"Reason refused": ""} for row in rows if row.refused] == [
        cells | {"Reason refused": ""} for cells, _ in kept
    ]
    assert [reason(row.problems) for row in rows if row.refused] == [why for _, why in kept]


def test_mended_it_is_taken():
    table = read_table((FIXTURES / "dirty.csv").read_bytes())
    file = refused_csv(table.headers, refused_of(table)[:1]).decode("utf-8-sig").replace("4/13/2026", "13/4/2026")
    (row,) = read_theatre_list(read_table(file.encode()), today=TODAY).rows
    assert row.value and row.problems == ()
