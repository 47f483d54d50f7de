"""A database of a benchmark's own, with nothing in it, which is gone afterwards."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from tempfile import TemporaryDirectory
from typing import Final

import django

TODAY: Final = date(2026, 4, 1)
NOW: Final = datetime.combine(TODAY, time(7), tzinfo=UTC)
"""When its clinic works: see tests.scenario."""


@contextmanager
def database() -> Iterator[str]:
    """Where DATABASE_URL says, else SQLite in a file; its name."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    os.environ.setdefault("CASELOAD_LOG_LEVEL", "ERROR")
    django.setup()
    from django.db import connection

    with TemporaryDirectory() as folder:
        if connection.vendor == "sqlite":
            connection.settings_dict["TEST"]["NAME"] = f"{folder}/measure.sqlite3"
        connection.creation.create_test_db(verbosity=0, autoclobber=True)
        name = str(connection.settings_dict["NAME"])
        try:
            yield name
        finally:
            connection.creation.destroy_test_db(name, verbosity=0)
