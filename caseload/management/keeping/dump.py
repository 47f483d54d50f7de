"""Every row of every table as the lines of a backup, read from one connection a few rows at a time."""

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from json import JSONEncoder
from typing import Any, Final

from django.db.backends.base.base import BaseDatabaseWrapper

from caseload.management.keeping.cells import WRITTEN, converted, forms_for
from caseload.management.keeping.heading import Heading, Table, as_line

AT_ONCE: Final = 1000
"""Rows in memory."""
Progress = Callable[[int], None]
_encode = JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def counted(connection: BaseDatabaseWrapper, heading: Heading) -> Heading:
    """The heading with the rows of each table counted, and the highest key that was ever given out."""
    with connection.cursor() as cursor:
        tables = tuple(_counted(connection, cursor, table) for table in heading.tables)
    return replace(heading, tables=tables)


def _counted(connection: BaseDatabaseWrapper, cursor: Any, table: Table) -> Table:
    name, key = connection.ops.quote_name(table.name), connection.ops.quote_name(table.key)
    if table.key_used is None:
        cursor.execute(f"SELECT count(*) FROM {name}")
        return replace(table, rows=cursor.fetchone()[0])
    cursor.execute(f"SELECT count(*), coalesce(max({key}), 0) FROM {name}")
    rows, highest = cursor.fetchone()
    return replace(table, rows=rows, key_used=max(highest, given_out(connection, cursor, table)))


def given_out(connection: BaseDatabaseWrapper, cursor: Any, table: Table) -> int:
    """The highest key that the database remembers to have given out."""
    if connection.vendor == "sqlite":
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table.name])
    else:
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [table.name, table.key])
        cursor.execute(f"SELECT last_value FROM {cursor.fetchone()[0]} WHERE is_called")
    found = cursor.fetchone()
    return int(found[0]) if found else 0


def lines(connection: BaseDatabaseWrapper, heading: Heading, progress: Progress | None = None) -> Iterator[bytes]:
    """The lines of a backup, many joined at a time: heading, rows, and the digest of all that, alone at the end."""
    digest, done = hashlib.sha256(), 0
    for count, part in _parts(connection, heading):
        digest.update(part)
        yield part
        done += count
        if progress:
            progress(done)
    yield as_line({"sha256": digest.hexdigest()})


def _parts(connection: BaseDatabaseWrapper, heading: Heading) -> Iterator[tuple[int, bytes]]:
    yield 0, heading.line()
    for table in heading.tables:
        yield from _rows(connection, table)


def _rows(connection: BaseDatabaseWrapper, table: Table) -> Iterator[tuple[int, bytes]]:
    """How many rows, and their lines."""
    quote = connection.ops.quote_name
    columns, forms = ", ".join(quote(name) for name, _ in table.columns), forms_for(table.kinds, WRITTEN)
    with connection.chunked_cursor() as cursor:
        cursor.execute(f"SELECT {columns} FROM {quote(table.name)} ORDER BY {quote(table.key)}")
        while rows := cursor.fetchmany(AT_ONCE):
            said = "\n".join(_encode(converted(list(row), forms)) for row in rows)
            yield len(rows), f"{said}\n".encode()


def last_line_of(connection: BaseDatabaseWrapper, heading: Heading) -> str:
    """The last line of what a backup of this database would hold now, of the tables and columns of `heading`."""
    last = b""
    for part in lines(connection, counted(connection, heading)):
        last = part
    return last.decode()
