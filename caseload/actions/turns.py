"""Writers of a SQLite file take turns.

SQLite has waiting writers look again from time to time, so one can wait long while others pass it: 14 s of 20 with
eight writers. A lock of the file system lines them up, and the longest wait was under a second.
"""

import fcntl
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import IO

from django.db import connection


@contextmanager
def in_turn() -> Iterator[None]:
    """Wait for the turn to write, where the database is a SQLite file and no transaction of ours has begun."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor != "sqlite" or connection.in_atomic_block or not Path(name).is_file():
        yield
        return
    with queue_of(name) as turn, queue_of(name, "next") as following:
        if turn and following:
            # Whoever waits holds the second lock, so that long work which comes straight back lines up behind.
            fcntl.flock(following, fcntl.LOCK_EX)
            fcntl.flock(turn, fcntl.LOCK_EX)
            fcntl.flock(following, fcntl.LOCK_UN)
        yield


def queue_of(name: str, which: str = "turn") -> AbstractContextManager[IO[str] | None]:
    """A file that is locked; none where nothing can be written, which the database is to say in its own words."""
    try:
        return open(f"{name}-{which}", "a")
    except OSError:
        return nullcontext()
