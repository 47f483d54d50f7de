"""The command that takes a list in: what it says, what it leaves, and how it ends (issue "Real input")."""

import io
import re
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.management import CommandError, call_command

from caseload.models import Episode, IntakeBatch, IntakeRow, IntakeSource, Patient, TrailEntry
from tests.exchange.lists import FIXTURES
from tests.intake.conftest import listing, said

WRITTEN = (Patient, Episode, IntakeBatch, IntakeRow, IntakeSource, TrailEntry)
TWO = listing(said(), said(nhs_number="999 000 0019"))


@pytest.fixture
def file(tmp_path: Path):
    def written(data: bytes, name: str = "list.csv") -> str:
        path = tmp_path / name
        path.write_bytes(data)
        return str(path)

    return written


def run(*arguments: str) -> tuple[str, list[str], int]:
    """What it wrote to standard output, the lines of its standard error, and its exit status."""
    out, err, status = io.StringIO(), io.StringIO(), 0
    try:
        call_command("intake", *arguments, stdout=out, stderr=err)
    except SystemExit as ended:
        status = ended.code
    return out.getvalue(), err.getvalue().splitlines(), status


def counts() -> list[int]:
    return [model.objects.count() for model in WRITTEN]


CLEAN = [("plain.csv", 8, 9), ("semicolons.csv", 6, 6), ("tabs.txt", 5, 6), ("workbook.xlsx", 4, 5)]
ALL = ("--site", "Fernhollow", "--accept-doubtful")


@pytest.mark.parametrize(("name", "rows", "opened"), CLEAN)
def test_every_row_of_a_clean_list_is_taken_in(clinic, name, rows, opened):
    """Stitches counted once for two digits are a doubt, which is accepted here."""
    out, err, status = run(str(FIXTURES / name), *ALL)
    sheets = [line for line in err if line.startswith("Not read, though it holds something: sheet Key.")]
    assert (len(sheets), status) == (name.endswith("xlsx"), 0) and err == sheets
    assert out.startswith(f"{rows} rows") and f"{rows} new" in out
    assert (Patient.objects.count(), Episode.objects.count()) == (rows, opened)


def test_of_the_dirty_list_the_sound_rows_are_taken_and_each_other_is_named(clinic):
    out, err, status = run(str(FIXTURES / "dirty.csv"), "--site", "fernhollow")
    assert status == 1
    assert all(re.match(r"row \d+: .+: .+", line) for line in err)
    assert any(line.startswith("row 5: Date of op: ") for line in err)
    assert any(line.startswith("row 38: row: ") for line in err)
    left = IntakeRow.objects.filter(outcome="").count()
    assert left == len({line.split(":")[0] for line in err}) and re.search(rf"\b{left}\b", out)
    assert Patient.objects.count() == IntakeRow.objects.filter(outcome="new").count() > 0


def test_a_rehearsal_says_the_same_and_writes_nothing(clinic, file):
    path, before = file(TWO), counts()
    rehearsed = run(path, "--dry-run")
    assert counts() == before
    out, err, status = run(path)
    assert rehearsed[1:] == (err, status) and status == 1
    assert re.findall(r"\d+", rehearsed[0]) == re.findall(r"\d+", out)
    assert "nothing was written" in rehearsed[0].lower() and Episode.objects.count() == 1


def test_the_same_file_twice_changes_nothing(clinic):
    path = str(FIXTURES / "plain.csv")
    run(path, *ALL)
    before = list(Episode.objects.order_by("pk").values()), list(Patient.objects.order_by("pk").values())
    out, err, status = run(path, *ALL)
    assert out.startswith("8 rows") and (err, status) == ([], 0)
    assert set(IntakeBatch.objects.latest("pk").rows.values_list("outcome", flat=True)) == {"known"}
    assert (list(Episode.objects.order_by("pk").values()), list(Patient.objects.order_by("pk").values())) == before


def test_what_is_left_out_is_a_file_that_is_mended_and_taken_in(clinic, file, tmp_path):
    path = tmp_path / "left out.csv"
    run(file(TWO), "--refused", str(path))
    left = path.read_text("utf-8-sig")
    assert left.count("\n") == 2 and "999 000 0019" in left
    mended = left.replace("999 000 0019", "999 000 0026").replace("Marian", "Desmond").replace("Ashdown", "Brackley")
    mended = mended.replace("1957", "1949").replace("07700 900101", "07700 900102")
    out, err, status = run(file(mended.encode(), "mended.csv"))
    assert (err, status) == ([], 0) and "1 new" in out
    assert Patient.objects.count() == 2


def test_a_doubtful_row_is_left_out_unless_it_is_taken_as_read(clinic, file):
    path = file(listing(said(surgery_date="3/4/26")))
    assert run(path)[2] == 1 and not Episode.objects.exists()
    assert run(path, "--accept-doubtful")[2] == 0 and Episode.objects.count() == 1


def test_a_list_may_come_by_standard_input(clinic, monkeypatch):
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(listing(said()))))
    assert run("-")[2] == 0
    assert Episode.objects.count() == 1


def test_an_unknown_site_is_refused_with_those_there_are(clinic, file):
    with pytest.raises(CommandError, match=r"no site Hill Top\. There are: Fernhollow, Quay Street"):
        run(file(TWO), "--site", "Hill Top")
    assert not IntakeBatch.objects.exists()


def test_a_file_that_cannot_be_read_is_said_without_a_traceback(clinic, tmp_path):
    for path in (tmp_path / "nowhere.csv", tmp_path):
        with pytest.raises(CommandError, match="cannot be read"):
            run(str(path))


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"\x00\xff" * 400, b"Surname,Side\n"])
def test_a_file_that_is_no_list_is_refused_and_leaves_nothing(clinic, file, data):
    with pytest.raises(CommandError):
        run(file(data))
    assert not IntakeBatch.objects.exists()


def test_columns_that_cannot_be_told_are_asked_for_and_nothing_is_kept(clinic, file):
    with pytest.raises(CommandError, match="Name the columns on the Intake page"):
        run(file(b"one,two\nx,y\n"))
    assert not IntakeBatch.objects.exists()


def test_a_place_that_cannot_be_written_is_said_before_anything_is_taken_in(clinic, file, tmp_path):
    for place in (tmp_path, tmp_path / "no folder" / "left.csv"):
        with pytest.raises(CommandError, match="cannot be written"):
            run(file(TWO), "--refused", str(place))
    assert counts()[:2] == [0, 0]
