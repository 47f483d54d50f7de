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
    with queue_of(name) as queue:
        if queue:
            fcntl.flock(queue, fcntl.LOCK_EX)
        yield


def queue_of(name: str) -> AbstractContextManager[IO[str] | None]:
    """The file that is locked; none where nothing can be written, which the database is to say in its own words."""
    try:
        return open(f"{name}-turn", "a")
    except OSError:
        return nullcontext()
