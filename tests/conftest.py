"""What every test shares: a database of its own in a temporary folder, and static files read from the source."""

import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.test import TransactionTestCase
from hypothesis import settings as searching

from tests import scratch

# A machine that is busy with something else makes no test wrong. In CI the search repeats itself; elsewhere it roams.
IN_CI = os.environ.get("CI", "").lower() == "true"
searching.register_profile("unhurried", deadline=None, print_blob=True, derandomize=IN_CI)
searching.load_profile("unhurried")

# Written through as everywhere, but without waiting for a disk.
_scratch = tempfile.TemporaryDirectory(prefix="caseload-tests-", dir=scratch.in_memory())


def pytest_configure(config: pytest.Config) -> None:
    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        # A file, as in use: an in-memory database shared by threads locks in other ways than a file does.
        settings.DATABASES["default"]["TEST"]["NAME"] = str(Path(_scratch.name) / "caseload.sqlite3")
    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.STATIC_ROOT = Path(_scratch.name)


def _emptied(empty: Callable[[TransactionTestCase], None]) -> Callable[[TransactionTestCase], None]:
    """On SQLite a database is emptied row by row, which the triggers refuse; whoever empties it puts them back."""

    def emptied(case: TransactionTestCase) -> None:
        from caseload.actions import triggers

        if connection.vendor == "sqlite":
            triggers.remove()
        empty(case)

    return emptied


TransactionTestCase._fixture_teardown = _emptied(TransactionTestCase._fixture_teardown)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What only random cases reach counts as not covered; following their lines would take as long again as they do."""
    for item in items:
        if hasattr(getattr(item, "obj", None), "hypothesis"):
            item.add_marker(pytest.mark.no_cover)


@pytest.fixture(scope="session")
def redis_url() -> Iterator[str]:
    """A Redis server of the tests' own."""
    if not scratch.find("redis-server"):
        pytest.skip("redis-server is not installed")
    with scratch.redis() as url:
        yield url
