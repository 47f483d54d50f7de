"""How the embedded database is opened: read back from the database itself.

Why: write-ahead logging in SQLite before 3.51.3 can corrupt a file that two processes write (SQLite's release notes of
3.51.3, from memory); a deferred transaction that turns into a writer half way is refused at once, without waiting.
"""

import sqlite3

import pytest
from django.db import connection, transaction

from caseload.checks import journal_is_safe, journal_refused

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="about SQLite"),
]


def pragma(name: str) -> object:
    with connection.cursor() as cursor:
        return cursor.execute(f"PRAGMA {name}").fetchone()[0]


def test_the_journal_is_a_rollback_journal_written_through():
    assert pragma("journal_mode") == "delete"
    assert pragma("synchronous") == 2  # FULL


def test_a_writer_waits_up_to_twenty_seconds_for_another():
    assert pragma("busy_timeout") == 20_000


def test_foreign_keys_are_enforced():
    assert pragma("foreign_keys") == 1


def test_a_transaction_takes_the_write_lock_at_its_start():
    other = sqlite3.connect(connection.settings_dict["NAME"], timeout=0)
    with transaction.atomic(), pytest.raises(sqlite3.OperationalError, match="locked"):
        other.execute("BEGIN IMMEDIATE")
    other.close()


def test_the_check_reads_the_journal_mode_back_and_is_content():
    assert journal_is_safe(databases=["default"]) == []


@pytest.mark.parametrize(
    ("mode", "version", "ids"),
    [
        ("wal", (3, 51, 2), ["caseload.E001"]),
        ("WAL", (3, 40, 1), ["caseload.E001"]),
        ("wal", (3, 51, 3), []),
        ("delete", (3, 40, 1), []),
    ],
)
def test_write_ahead_logging_is_refused_before_the_version_that_mended_it(mode, version, ids):
    assert [message.id for message in journal_refused(mode, version)] == ids
