"""System checks: settings that Django accepts and a clinic should not run with."""

import sqlite3
from collections.abc import Sequence
from datetime import date
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections
from django.db.models import F
from django.utils import timezone

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


@register(Tags.security)
def mail_reaches_patients(**_: Any) -> list[CheckMessage]:
    """A service for real patients sends its e-mail, or none; a folder is for a demo."""
    if not settings.HTTPS or settings.MAIL_URL != "folder:":
        return []
    message = "CASELOAD_MAIL_URL is folder: so e-mail to patients is written into a folder and reaches nobody."
    return [Warning(message, hint="Name a mail server, or leave it empty: patients are rung.", id="caseload.W003")]


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


@register(Tags.database)
def holidays_reach_far_enough(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """A year's notice before a holiday list ends, in each database that is about to be used and has its tables."""
    return [
        message
        for alias in databases or []
        if "caseload_session" in connections[alias].introspection.table_names()
        for message in holidays_running_out(timezone.localdate(), alias)
    ]


def holidays_running_out(today: date, alias: str = "default") -> list[CheckMessage]:
    # Models are there only once the applications are loaded.
    from caseload.models import Region, Session
    from caseload.reads.sessions import NOTICE

    hint = "Load the next official list: see “Extend the holidays” in DEVELOPERS.md."
    ending = Region.objects.using(alias).filter(sites__isnull=False, covered_until__lte=today + NOTICE).distinct()
    found: list[CheckMessage] = [
        Warning(
            f"The holidays of {region.title} are known until {region.covered_until} only.",
            hint=hint,
            id="caseload.W001",
        )  # fmt: skip
        for region in ending
    ]
    beyond = Session.objects.using(alias).filter(live=True, on__gt=F("site__region__covered_until")).count()
    if beyond:
        found.append(Warning(f"{beyond} sessions lie beyond the known holidays.", hint=hint, id="caseload.W002"))
    return found
