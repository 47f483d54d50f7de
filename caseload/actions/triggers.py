"""Append-only tables, held so by the database: an UPDATE of a finding or of the trail is refused on both engines.

Installed after every migrate, because SQLite drops the triggers of a table when a later migration alters it.
"""

from typing import Any

from django.db import connections

APPEND_ONLY = ("caseload_finding", "caseload_trailentry")

_SQLITE = """
CREATE TRIGGER IF NOT EXISTS {table}_append_only BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END
"""
_POSTGRESQL = """
CREATE OR REPLACE FUNCTION caseload_append_only() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation'; END $$;
CREATE OR REPLACE TRIGGER {table}_append_only BEFORE UPDATE ON {table}
FOR EACH ROW EXECUTE FUNCTION caseload_append_only();
"""


def install(using: str = "default", **_: Any) -> None:
    """Install the triggers; harmless when they are there already or the tables are not."""
    connection = connections[using]
    statement = _SQLITE if connection.vendor == "sqlite" else _POSTGRESQL
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in tables.intersection(APPEND_ONLY):
            cursor.execute(statement.format(table=table))
