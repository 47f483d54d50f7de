"""A clinic built once for each process, and taken back from a copy of its database for each further test."""

import sqlite3
from collections.abc import Callable
from copy import deepcopy
from datetime import date

from django.db import connection
from django.utils import timezone

from tests.scenario import Fernhollow

_kept: dict[tuple[Callable[[], Fernhollow], date], tuple[sqlite3.Connection, Fernhollow]] = {}


def built_once(build: Callable[[], Fernhollow]) -> Fernhollow:
    """What `build` makes of an empty SQLite database today, as it stood when it was made."""
    connection.ensure_connection()
    key = build, timezone.localdate()
    if key in _kept:
        _kept[key][0].backup(connection.connection)
    else:
        _kept[key] = sqlite3.connect(":memory:"), build()
        connection.connection.backup(_kept[key][0])
    return deepcopy(_kept[key][1])
