"""Backup and restore: everything, once, and the same bytes again."""

import csv
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from django.conf import settings
from django.contrib.sessions.models import Session as SignIn
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, connections, transaction
from django.utils import timezone

from caseload.actions import jobs, notices
from caseload.management.commands import backup
from caseload.management.keeping.dump import counted, lines
from caseload.management.keeping.files import check, write
from caseload.management.keeping.heading import Heading, tables_of
from caseload.management.keeping.state import applied, known, models_at
from caseload.models import Finding, Job, Look, Notice, Patient, Seat, Slot, Tick, TrailEntry
from caseload.reads.files import FILES
from caseload.reads.proof import prove
from tests.house.keeping import at, copies, fill, forged, new_sqlite, no_larger_than, rows_by_table, writing

pytestmark = pytest.mark.django_db
ON_POSTGRESQL = connection.vendor == "postgresql"
on_sqlite = pytest.mark.skipif(ON_POSTGRESQL, reason="once is enough")
KILLED_AT_THE_END = """
import os, signal, django
os.environ["DJANGO_SETTINGS_MODULE"] = "clinic.settings"
django.setup()
from django.core.management import call_command
from caseload.actions import triggers
triggers.install = lambda: os.kill(os.getpid(), signal.SIGKILL)
call_command("restore", {file!r})
"""


@pytest.fixture(scope="module")
def fresh(django_db_setup, tmp_path_factory) -> Iterator[Callable[[], str]]:
    """Empty databases, each a copy of the one that the run has made."""
    connections.close_all()
    with copies(str(connection.settings_dict["NAME"]), tmp_path_factory.mktemp("databases")) as copy:
        yield copy


@pytest.fixture(scope="module")
def filled(fresh, django_db_blocker) -> str:
    """A database in which every table holds something."""
    url = fresh()
    with django_db_blocker.unblock(), at(url):
        fill()
    return url


@pytest.fixture(scope="module")
def saved(filled, django_db_blocker, tmp_path_factory) -> Path:
    """A backup of it."""
    file = tmp_path_factory.mktemp("saved") / "monday.caseload"
    with django_db_blocker.unblock(), at(filled):
        call_command("backup", str(file), stdout=StringIO())
    return file


def run(name: str, *said: object) -> str:
    """What a command says on standard output."""
    out = StringIO()
    call_command(name, *map(str, said), stdout=out)
    return out.getvalue()


@pytest.fixture
def restored(fresh, saved) -> Iterator[str]:
    """What `restore` said, in the database that it filled."""
    with at(fresh()):
        yield run("restore", saved, "--send-due")


def test_no_table_is_left_out(filled, saved):
    kept_out = {"caseload_pulse"}
    heading = check(saved).heading
    with at(filled):
        rows = rows_by_table()
    assert {table.name: table.rows for table in heading.tables} == {
        name: count for name, count in rows.items() if name not in kept_out
    }
    assert all(count for name, count in rows.items() if name not in kept_out)


def test_a_restored_database_gives_the_same_bytes_and_everybody_signs_in_anew(restored, saved, tmp_path):
    run("backup", tmp_path / "again")
    assert (tmp_path / "again").read_bytes() == saved.read_bytes()
    assert "byte for byte" in restored and "Everybody signs in anew" in restored
    assert not SignIn.objects.exists()
    assert prove().blocks == 1 and not prove().faults, "the trail is what was sealed"


def test_what_the_database_refuses_it_refuses_again(restored):
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        Finding.objects.update(note="another")
    elsewhere = Slot.objects.filter(seat=None, live=True).exclude(session=Seat.objects.first().slot.session).first()
    with pytest.raises(IntegrityError, match="session of its appointment"), transaction.atomic():
        Seat.objects.create(slot=elsewhere, appointment=Seat.objects.first().appointment)


def test_a_key_that_was_given_out_once_is_not_given_out_again(restored):
    kept = Tick.objects.get().pk  # not 1 where earlier tests of the run drew on the same PostgreSQL sequence
    assert Tick.objects.create(name="new", due_at=timezone.now()).pk == kept + 2


@on_sqlite
def test_long_work_that_ran_is_taken_up_again(restored):
    assert Job.objects.get(kind="odd").pk in jobs.due_ids(limit=10)
    assert f"Work in progress that is not done: {Job.objects.filter(ended_at=None).count()};" in restored


@on_sqlite
def test_e_mails_that_are_due_are_not_sent_from_a_restored_database_nor_taken_for_its_last_act(filled, fresh, saved):
    with at(filled):
        last = TrailEntry.objects.latest("at").at
    with time_machine.travel(last + timedelta(hours=1)), at(fresh()):
        said = run("restore", saved)
        assert f"The last act in it is of {timezone.localtime(last):%d %b %Y, %H:%M}." in said
        assert "E-mails that were due: 2. They are not sent" in said
        assert not notices.due_ids(10, timezone.now())
        states = dict(Notice.objects.filter(key__startswith="odd").values_list("kind", "state"))
        assert states == {"week-before": "waiting", "booked": "failed"}
        assert Notice.objects.get(key="odd-week-before").channel == "call"


def test_the_record_is_taken_away_as_files_for_people_and_that_is_recorded(fresh, saved, tmp_path):
    (tmp_path / "record").mkdir(mode=0o755)
    with at(fresh()):
        run("restore", saved)
        said = run("export", tmp_path / "record", "--by", "lena")
        assert Look.objects.get(route="export").by.username == "lena"
        lines = {file.name: file.model.objects.count() for file in FILES}
    written = {path.name: path for path in (tmp_path / "record").iterdir()}
    assert set(written) == {"README.txt", *(f"{name}.csv" for name in lines)}
    assert {path.stat().st_mode & 0o777 for path in written.values()} == {0o600}
    assert (tmp_path / "record").stat().st_mode & 0o777 == 0o700
    for name, count in lines.items():
        with written[f"{name}.csv"].open(encoding="utf-8-sig", newline="") as file:
            assert len(list(csv.reader(file))) - 1 == count - (name == "looks"), name
    assert "'=1+1" in written["patients.csv"].read_text() and "O’Neill" not in said


@on_sqlite
def test_an_export_is_signed_for_and_fills_no_folder_that_holds_something(filled, tmp_path):
    (tmp_path / "there").write_text("something")
    with at(filled):
        with pytest.raises(CommandError, match="not an empty folder"):
            run("export", tmp_path, "--by", "lena")
        with pytest.raises(CommandError, match="Nobody who works here signs in as joan"):
            run("export", tmp_path / "new", "--by", "joan")
        with pytest.raises(CommandError, match="Nothing was written"), no_larger_than(4096):
            run("export", tmp_path / "new", "--by", "lena")
    assert [path.name for path in tmp_path.iterdir()] == ["there"]


@on_sqlite
def test_a_database_that_is_not_empty_is_left_alone_and_what_is_there_is_named(filled, saved):
    with at(filled):
        before = rows_by_table()
        with pytest.raises(CommandError, match=r"not empty: it holds \d+ [a-z ]+, .*demo --wipe"):
            run("restore", saved)
        assert rows_by_table() == before


def no_site(said: list[bytes]) -> None:
    said[:] = [line.replace(b'"caseload_site"', b'"caseload_sites"') for line in said]


def twice(said: list[bytes]) -> None:
    """The clinic's first holiday stands in it twice, the third not at all."""
    place = next(number for number, line in enumerate(said) if b"Good Friday" in line)
    said[place + 2] = said[place]


def dangling(said: list[bytes]) -> None:
    """The holidays are of a region that is not there."""
    place = next(number for number, line in enumerate(said) if b"Good Friday" in line)
    said[place], changed = re.subn(rb",\d+\]", b",987654]", said[place])
    assert changed == 1


def mixed(said: list[bytes]) -> None:
    """One of the patients is the demo's, the staff are real."""
    place = next(number for number, line in enumerate(said) if b"Neill" in line)
    said[place] = said[place].replace(b"false", b"true")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (mixed, "a real service are mixed"),
        (twice, "refuses a row of caseload_holiday"),
        (dangling, "refers to one that is not in the file"),
        (no_site, "caseload_sites"),
    ],
)
def test_a_file_that_does_not_fit_leaves_the_database_empty(fresh, saved, tmp_path, change, says):
    with at(fresh()):
        with pytest.raises(CommandError, match=says) as refused:
            run("restore", forged(saved, tmp_path / "forged", change))
        assert "Good Friday" not in str(refused.value)
        assert not any(rows_by_table().values())


@on_sqlite
def test_a_backup_of_a_newer_release_is_refused_in_words(fresh, saved, tmp_path):
    def newer(said: list[bytes]) -> None:
        said[0] = said[0].replace(b'"0004_notices"', b'"0004_notices","0999_far_ahead"')

    with at(fresh()), pytest.raises(CommandError, match="newer release.*0999_far_ahead.*Install that release"):
        run("restore", forged(saved, tmp_path / "newer", newer))


def test_others_go_on_writing_during_a_backup_and_it_holds_one_instant(fresh, saved, tmp_path, monkeypatch):
    with at(url := fresh()):
        run("restore", saved)
        before = Patient.objects.count()
        with writing(url) as writer:
            monkeypatch.setattr(backup, "progress", lambda of: lambda done: writer.wait_for_one_more())
            run("backup", tmp_path / "busy")
        after = Patient.objects.count()
    held = check(tmp_path / "busy").heading.count("caseload_patient")
    assert before < held < after == before + writer.done
    with at(fresh()):
        assert "byte for byte" in run("restore", tmp_path / "busy")


@on_sqlite
def test_a_restore_that_is_killed_leaves_the_database_empty(fresh, saved):
    code = KILLED_AT_THE_END.format(file=str(saved))
    url = fresh()
    ended = subprocess.run([sys.executable, "-c", code], cwd=settings.BASE_DIR, env=os.environ | {"DATABASE_URL": url})
    assert ended.returncode == -signal.SIGKILL
    with at(url):
        assert not any(rows_by_table().values())
        assert "byte for byte" in run("restore", saved)


@on_sqlite
def test_where_no_tables_are_nothing_is_saved_and_that_is_said(tmp_path):
    with at(f"sqlite:///{tmp_path}/data/none.sqlite3"):
        for command in (["backup", tmp_path / "file"], ["export", tmp_path / "folder", "--by", "lena"]):
            with pytest.raises(CommandError, match="no database of the planner|not of this release"):
                run(*command)
    assert [path.name for path in tmp_path.iterdir()] == ["data"]


@on_sqlite
def test_a_full_disk_is_one_sentence_and_leaves_nothing(filled, fresh, saved, tmp_path):
    for url, command, file in ((filled, "backup", tmp_path / "full"), (fresh(), "restore", saved)):
        with at(url):
            before = rows_by_table()
            with no_larger_than(4096), pytest.raises(CommandError, match="There is no room left"):
                run(command, file)
            assert rows_by_table() == before and list(tmp_path.iterdir()) == []


@pytest.fixture
def old(filled, tmp_path) -> Path:
    """A backup as the release before notices would have made it."""
    names = ["0001_first", "0002_diary", "0003_visits"]
    with at(filled):
        heading = Heading("0.0.9", tuple(names), tables_of(models_at(names)))
        write(tmp_path / "old", lines(connection, counted(connection, heading)), replace=False)
    return tmp_path / "old"


def test_a_backup_of_an_older_release_is_loaded_as_it_was_and_brought_up_to_date(fresh, saved, old, tmp_path):
    with at(fresh() if ON_POSTGRESQL else f"sqlite:///{tmp_path}/not/there/yet.sqlite3"):
        said = run("restore", old)
        assert "byte for byte" in said and "of release 0.0.9 and is up to date now" in said
        assert applied(connection) == tuple(sorted(known()))
        assert Patient.objects.filter(email_consent=False).count() == check(saved).heading.count("caseload_patient")
        assert Job.objects.filter(kind="rederive", state="waiting").exists(), "which fills its waits"
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
            Finding.objects.update(note="another")


@pytest.mark.skipif(not ON_POSTGRESQL, reason="between the engines")
def test_a_move_to_sqlite_and_back_changes_no_byte(fresh, saved, tmp_path):
    file = saved
    for number, url in enumerate([new_sqlite(tmp_path / "moved.sqlite3"), fresh()]):
        with at(url):
            run("restore", file, "--send-due")
            run("backup", file := tmp_path / str(number))
            assert prove().blocks == 1 and not prove().faults, "a seal holds on either engine"
        assert file.read_bytes() == saved.read_bytes()
