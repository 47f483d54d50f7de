"""System checks: settings that Django accepts and a clinic should not run with."""

import sqlite3
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

SAFE_WITH_WAL = (3, 51, 3)
LOOPBACK = {"localhost", "127.0.0.1", "[::1]"}


@register(Tags.security)
def addresses_need_tls(**_: Any) -> list[CheckMessage]:
    """Without TLS, loopback addresses only: names and sign-ins would cross a network bare."""
    others = sorted(set(settings.ALLOWED_HOSTS) - LOOPBACK)
    if settings.HTTPS or not others:
        return []
    message = f"CASELOAD_HOSTS names {', '.join(others)}, which other machines reach, but CASELOAD_HTTPS is not true."
    return [Error(message, hint="Put a proxy that ends TLS in front and set CASELOAD_HTTPS=true.", id="caseload.E002")]


@register(Tags.database)
def journal_is_safe(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Read the journal mode back from each SQLite database that is about to be used."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                mode = cursor.execute("PRAGMA journal_mode").fetchone()[0]
            found += journal_refused(mode, sqlite3.sqlite_version_info)
    return found


def journal_refused(mode: str, version: tuple[int, ...]) -> list[CheckMessage]:
    """Write-ahead logging before SQLite 3.51.3 can corrupt a file that two processes write at once."""
    if mode.lower() != "wal" or version >= SAFE_WITH_WAL:
        return []
    running = ".".join(map(str, version))
    message = f"SQLite {running} can corrupt a database in write-ahead mode when two processes write."
    return [Error(message, hint="Use journal_mode=DELETE, or SQLite 3.51.3 or newer.", id="caseload.E001")]
