"""What tests stand on, built once for each process, and taken back from a copy of its database for each further one."""

import sqlite3
from collections.abc import Callable
from copy import deepcopy
from datetime import date
from typing import Any, TypeVar

from django.db import connection
from django.utils import timezone

Built = TypeVar("Built")
_kept: dict[tuple[Callable[[], Any], date], tuple[sqlite3.Connection, Any]] = {}


def copied() -> sqlite3.Connection:
    """The SQLite database as it stands, in memory; `put_back` makes it so again."""
    connection.ensure_connection()
    copy = sqlite3.connect(":memory:")
    connection.connection.backup(copy)
    return copy


def put_back(copy: sqlite3.Connection) -> None:
    connection.ensure_connection()
    copy.backup(connection.connection)


def built_once(build: Callable[[], Built]) -> Built:
    """What `build` makes of an empty SQLite database today, as it stood when it was made."""
    key = build, timezone.localdate()
    if key in _kept:
        put_back(_kept[key][0])
    else:
        built = build()
        _kept[key] = copied(), built
    return deepcopy(_kept[key][1])
