"""Writers of a SQLite file wait in a line; whoever is inside a transaction, or on PostgreSQL, does not."""

import fcntl
import threading
from contextlib import closing

import pytest
from django.db import connection

from caseload.actions.turns import in_turn, queue_of

pytestmark = pytest.mark.skipif(connection.vendor != "sqlite", reason="about SQLite")


def take(taken: threading.Event) -> None:
    with closing(connection), in_turn():
        taken.set()


def test_a_writer_waits_until_the_one_before_is_done(db):
    taken = threading.Event()
    with open(f"{connection.settings_dict['NAME']}-turn", "a") as turn:
        fcntl.flock(turn, fcntl.LOCK_EX)
        waiting = threading.Thread(target=take, args=(taken,))
        waiting.start()
        assert not taken.wait(0.3)
        with in_turn():  # these tests run inside a transaction: it has its turn already
            pass
    assert taken.wait(10)
    waiting.join()


def test_whoever_waits_is_before_one_who_comes_straight_back(db):
    """A thread that has had its turn and wants another must find the place next in line taken."""
    taken, name = threading.Event(), connection.settings_dict["NAME"]
    with open(f"{name}-turn", "a") as turn:
        fcntl.flock(turn, fcntl.LOCK_EX)
        waiting = threading.Thread(target=take, args=(taken,))
        waiting.start()
        with open(f"{name}-next", "a") as following:
            while not taken_by_another(following):
                waiting.join(0.01)
    assert taken.wait(10)
    waiting.join()


def taken_by_another(lock) -> bool:
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    fcntl.flock(lock, fcntl.LOCK_UN)
    return False


def test_where_nothing_can_be_written_nobody_waits_and_the_database_itself_says_so(tmp_path):
    (tmp_path / "caseload.sqlite3-turn").mkdir()  # cannot be opened, as on a disk that is only read
    with queue_of(str(tmp_path / "caseload.sqlite3")) as queue:
        assert queue is None
