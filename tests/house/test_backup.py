"""Backup and restore: everything, once, and the same bytes again."""

from collections.abc import Callable, Iterator
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session as SignIn
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, connections, transaction
from django.utils import timezone

from caseload.actions import jobs, notices
from caseload.management.commands import backup
from caseload.management.keeping.files import check
from caseload.models import Finding, Job, Notice, Patient, Seat, Slot, Tick
from tests.house.keeping import at, copies, fill, forged, rows_by_table, writing

pytestmark = pytest.mark.django_db
ON_POSTGRESQL = connection.vendor == "postgresql"


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


def test_what_the_database_refuses_it_refuses_again(restored):
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        Finding.objects.update(note="another")
    elsewhere = Slot.objects.filter(seat=None, live=True).exclude(session=Seat.objects.first().slot.session).first()
    with pytest.raises(IntegrityError, match="session of its appointment"), transaction.atomic():
        Seat.objects.create(slot=elsewhere, appointment=Seat.objects.first().appointment)


def test_a_key_that_was_given_out_once_is_not_given_out_again(restored):
    assert Tick.objects.get().pk == 1
    assert Tick.objects.create(name="new", due_at=timezone.now()).pk == 3


def test_long_work_that_ran_is_taken_up_again(restored):
    assert Job.objects.get(kind="odd").pk in jobs.due_ids(limit=10)
    assert "pieces of long work go on where they were" in restored


def test_e_mails_that_are_due_are_not_sent_from_a_restored_database(fresh, saved):
    with at(fresh()):
        said = run("restore", saved)
        assert "2 e-mails were due. They were not sent" in said
        assert not notices.due_ids(10, timezone.now())
        states = dict(Notice.objects.filter(key__startswith="odd").values_list("kind", "state"))
        assert states == {"week-before": "waiting", "booked": "failed"}
        assert Notice.objects.get(key="odd-week-before").channel == "call"


def test_a_database_that_is_not_empty_is_left_alone_and_what_is_there_is_named(filled, saved):
    with at(filled):
        before = rows_by_table()
        with pytest.raises(CommandError, match=r"not empty: it holds \d+ [a-z ]+, .*demo --wipe"):
            run("restore", saved)
        assert rows_by_table() == before


def no_site(lines: list[bytes]) -> None:
    lines[:] = [line.replace(b'"caseload_site"', b'"caseload_sites"') for line in lines]


def twice(lines: list[bytes]) -> None:
    """The clinic's first holiday stands in it twice, the third not at all."""
    place = next(number for number, line in enumerate(lines) if b"Good Friday" in line)
    lines[place + 2] = lines[place]


def dangling(lines: list[bytes]) -> None:
    """The holidays are of a region that is not there."""
    place = next(number for number, line in enumerate(lines) if b"Good Friday" in line)
    lines[place] = lines[place].replace(b",1]", b",77]")


@pytest.mark.parametrize(
    ("change", "says"),
    [
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


def test_a_backup_of_a_newer_release_is_refused_in_words(fresh, saved, tmp_path):
    def newer(lines: list[bytes]) -> None:
        lines[0] = lines[0].replace(b'"0004_notices"', b'"0004_notices","0999_far_ahead"')

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


@pytest.mark.skipif(not ON_POSTGRESQL, reason="between the engines")
def test_a_move_to_sqlite_and_back_changes_no_byte(fresh, saved, tmp_path):
    for number, url in enumerate([f"sqlite:///{tmp_path}/new/caseload.sqlite3", fresh()]):
        with at(url):
            run("restore", saved, "--send-due")
            run("backup", tmp_path / str(number))
        assert (tmp_path / str(number)).read_bytes() == saved.read_bytes()
