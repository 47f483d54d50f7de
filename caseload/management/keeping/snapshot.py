"""The database as it stands at one instant, to read at leisure while others go on writing.

PostgreSQL gives such a view by itself. A reader of a SQLite file holds up every writer, so there the file is copied
first, which takes a small part of the time, and the copy is read.
"""

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from caseload.actions.turns import in_turn

ALIAS: Final = "snapshot"
WAIT_SECONDS: Final = 20


@contextmanager
def snapshot(folder: Path) -> Iterator[BaseDatabaseWrapper]:
    """A connection, also to be had for queries as `using(ALIAS)`, that sees the database as it stands now.

    `folder` is where a copy of a SQLite file may lie for a moment. Raises OSError or a database error without room.
    """
    with _copy_of_file(folder) if connection.vendor == "sqlite" else _frozen() as view:
        connections[ALIAS] = view
        try:
            yield view
        finally:
            del connections[ALIAS]
            view.close()


@contextmanager
def _frozen() -> Iterator[BaseDatabaseWrapper]:
    view = connection.copy(ALIAS)
    view.settings_dict["OPTIONS"].pop("pool", None)
    view.set_autocommit(False)
    with view.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
    yield view


@contextmanager
def _copy_of_file(folder: Path) -> Iterator[BaseDatabaseWrapper]:
    """The copy loses its name as soon as it is open: whatever ends this process, nothing of it is left behind."""
    handle, name = tempfile.mkstemp(dir=folder, prefix=".caseload-")
    os.close(handle)
    try:
        copy_file(Path(connection.settings_dict["NAME"]), Path(name))
        view = connection.copy(ALIAS)
        view.settings_dict["NAME"] = name
        view.ensure_connection()
    finally:
        os.unlink(name)
    yield view


def copy_file(source: Path, target: Path) -> None:
    """Copy a SQLite database in one go between two writers: in steps, each write would make it begin again."""
    address = f"{source.absolute().as_uri()}?mode=rw"
    with (
        connection.wrap_database_errors,
        closing(sqlite3.connect(address, uri=True, timeout=WAIT_SECONDS)) as held,
        closing(sqlite3.connect(target)) as copy,
    ):
        copy.executescript("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF")
        with in_turn():
            held.backup(copy)
