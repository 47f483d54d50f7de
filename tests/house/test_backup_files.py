"""A backup as a file, and its cells: one form on either engine, whole or not at all, checked before it is believed."""

import gzip
from datetime import date, datetime, timedelta, timezone
from uuid import UUID

import pytest
from django.apps import apps

from caseload.errors import Refusal
from caseload.management.keeping.cells import READ, WRITTEN, plain_json
from caseload.management.keeping.files import check, write
from caseload.management.keeping.heading import Heading, Table, as_line, tables_of
from tests.house.keeping import no_larger_than, with_digest

HEADING = Heading("0.1.0", ("0001_first",), (Table("caseload_site", (("id", "number"), ("name", "text")), 2, 7),))
LINES = [HEADING.line(), b'[1,"Fernhollow"]\n', b'[7,"Quay Street"]\n']
SUMMER = timezone(timedelta(hours=1))


@pytest.fixture
def kept(tmp_path):
    write(tmp_path / "kept", with_digest(LINES), replace=False)
    return tmp_path / "kept"


@pytest.mark.parametrize(
    ("kind", "of_sqlite", "of_postgresql", "cell"),
    [
        ("truth", 1, True, True),
        ("day", "2024-02-29", date(2024, 2, 29), "2024-02-29"),
        ("instant", "2026-03-29 01:00:00", datetime(2026, 3, 29, 2, tzinfo=SUMMER), "2026-03-29T01:00:00.000000Z"),
        ("instant", "2026-03-29 01:00:00.000001", datetime(2026, 3, 29, 1, 0, 0, 1), "2026-03-29T01:00:00.000001Z"),
        ("uuid", f"{9:032x}", UUID(int=9), "00000000-0000-0000-0000-000000000009"),
        ("bytes", b"\x00\xff", memoryview(b"\x00\xff"), "AP8="),
        ("json", '{"b": 1e+16, "a": "\\u00e9"}', '{"a": "é", "b": 10000000000000000}',
         '{"a":"\\u00e9","b":10000000000000000}'),
        ("json", "[-0.0, 1e-07, 1.50]", "[0.0, 0.0000001, 1.50]", "[0.0,0.0000001,1.50]"),
        ("json", "null", "null", "null"),
    ],
)  # fmt: skip
def test_both_engines_give_the_same_cell_and_sqlite_takes_it_back_as_it_was(kind, of_sqlite, of_postgresql, cell):
    assert WRITTEN[kind](of_sqlite) == WRITTEN[kind](of_postgresql) == cell
    back = READ["sqlite"].get(kind, lambda same: same)(cell)
    assert back == of_sqlite or kind == "json"


def test_a_number_of_json_keeps_every_digit():
    assert plain_json({"n": 2**70, "m": [1, True, None]}) == '{"m":[1,true,null],"n":1180591620717411303424}'


def test_every_column_of_every_table_has_a_form():
    tables = tables_of(apps.get_app_config("caseload").get_models())
    assert len(tables) > 40 and {kind for table in tables for kind in table.kinds} - set(WRITTEN) == {"number", "text"}


def test_a_key_is_a_number_or_an_identifier_so_that_both_engines_order_it_alike():
    tables = tables_of(apps.get_app_config("caseload").get_models())
    assert {table.kinds[0] for table in tables} <= {"number", "uuid"}


def test_a_backup_is_read_by_its_owner_only_and_the_same_lines_are_the_same_bytes(kept, tmp_path):
    assert kept.stat().st_mode & 0o777 == 0o600
    write(tmp_path / "other", with_digest(LINES), replace=False)
    assert (tmp_path / "other").read_bytes() == kept.read_bytes()
    assert check(kept).heading == HEADING


def test_a_file_that_is_there_stays_unless_it_may_be_replaced(kept, tmp_path):
    before = kept.read_bytes()
    with pytest.raises(Refusal, match="is there already.*--replace"):
        write(kept, with_digest(LINES), replace=False)
    assert kept.read_bytes() == before and list(tmp_path.iterdir()) == [kept]
    write(kept, with_digest(LINES), replace=True)


def test_nothing_but_a_backup_is_ever_replaced(tmp_path):
    (tmp_path / "caseload.sqlite3").write_bytes(b"SQLite format 3\0")
    with pytest.raises(Refusal, match="is not a backup of the planner"):
        write(tmp_path / "caseload.sqlite3", with_digest(LINES), replace=True)
    assert [path.read_bytes() for path in tmp_path.iterdir()] == [b"SQLite format 3\0"]


def test_a_full_disk_leaves_the_earlier_backup_and_no_rest(kept, tmp_path):
    before = kept.read_bytes()
    with no_larger_than(100), pytest.raises(OSError, match="too large"):
        write(kept, with_digest(LINES), replace=True)
    assert kept.read_bytes() == before and list(tmp_path.iterdir()) == [kept]


def packed(*lines: bytes) -> bytes:
    return gzip.compress(b"".join(lines))


WHOLE = packed(*with_digest(LINES))
DAMAGED = {
    "cut short": WHOLE[:-20],
    "one byte changed": WHOLE[:60] + bytes([WHOLE[60] ^ 1]) + WHOLE[61:],
    "more at its end": WHOLE + b"more",
    "a row less": packed(*with_digest(LINES[:2])),
    "a row changed": packed(*LINES[:2], b'[7,"Quay Streed"]\n', [*with_digest(LINES)][-1]),
    "no digest": packed(*LINES),
}
OTHERS = {
    "nothing": b"",
    "text": b"Surname,First name\n",
    "packed text": packed(b"Surname\n"),
    "json": packed(b"[1]\n"),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_a_damaged_file_is_refused_before_anything_is_written(name, tmp_path):
    (tmp_path / "file").write_bytes(DAMAGED[name])
    with pytest.raises(Refusal) as refusal:
        check(tmp_path / "file")
    assert refusal.value.code in ("damaged-backup", "not-a-backup")
    assert refusal.value.code == "damaged-backup" or name == "one byte changed"


@pytest.mark.parametrize("name", OTHERS)
def test_another_file_is_not_a_backup(name, tmp_path):
    (tmp_path / "file").write_bytes(OTHERS[name])
    with pytest.raises(Refusal, match="not a backup of the planner"):
        check(tmp_path / "file")


def test_a_file_that_is_not_there_or_is_a_folder_is_said(tmp_path):
    for path in (tmp_path / "none", tmp_path):
        with pytest.raises(Refusal, match="cannot be read"):
            check(path)


def test_a_later_shape_of_file_is_of_a_newer_release(tmp_path):
    line = HEADING.line().replace(b'"shape":1', b'"shape":2')
    (tmp_path / "file").write_bytes(packed(*with_digest([line])))
    with pytest.raises(Refusal, match="release 0.1.0, which is newer"):
        check(tmp_path / "file")


def test_a_line_is_one_line_whatever_is_in_it():
    assert as_line(["a\nb\u2028"]).count(b"\n") == 1
