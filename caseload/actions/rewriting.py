"""Many rows written by one statement that is put into words once.

Django's own `bulk_create` and `bulk_update` take longer to put the statement into words than the database to carry it
out. SQLite runs a prepared statement for each row; PostgreSQL takes many rows as one stream (COPY).
"""

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

STREAMED = 50
"""From so many rows on, a stream pays."""
BATCH = 500
Values = list[list[Any]]


def rewrite(rows: Sequence[models.Model], names: Sequence[str]) -> None:
    """Write the fields `names` of rows that are stored already."""
    if not rows:
        return
    here, meta = connections[DEFAULT_DB_ALIAS], rows[0]._meta
    key = [field for field in meta.concrete_fields if field.name == "id"]
    fields = [field for field in meta.concrete_fields if field.name in names]
    table, columns = here.ops.quote_name(meta.db_table), _quoted(fields, here)
    if _streams(here, rows):
        _rewrite_by_stream(here, table, columns, _values(rows, [*fields, *key], here))
        return
    wanted = ", ".join(f"{column} = %s" for column in columns)
    with here.cursor() as cursor:
        cursor.executemany(f"UPDATE {table} SET {wanted} WHERE id = %s", _values(rows, [*fields, *key], here))


def _rewrite_by_stream(here: BaseDatabaseWrapper, table: str, columns: list[str], values: Values) -> None:
    held, wanted = ", ".join([*columns, "id"]), ", ".join(f"{column} = rewritten.{column}" for column in columns)
    with here.cursor() as cursor:
        cursor.execute(f"CREATE TEMPORARY TABLE rewritten ON COMMIT DROP AS SELECT {held} FROM {table} WITH NO DATA")
        _stream(here, cursor, f"rewritten ({held})", values)
        cursor.execute(f"UPDATE {table} SET {wanted} FROM rewritten WHERE {table}.id = rewritten.id")
        cursor.execute("DROP TABLE rewritten")


def insert(rows: Sequence[models.Model]) -> None:
    """Store new rows, all of one kind, whose keys nobody asks for afterwards: they are not given one."""
    if not rows:
        return
    here, meta = connections[DEFAULT_DB_ALIAS], rows[0]._meta
    fields = [field for field in meta.concrete_fields if not field.primary_key]
    into = f"{here.ops.quote_name(meta.db_table)} ({', '.join(_quoted(fields, here))})"
    values = _values(rows, fields, here)
    with here.cursor() as cursor:
        if _streams(here, rows):
            _stream(here, cursor, into, values)
        else:
            cursor.executemany(f"INSERT INTO {into} VALUES ({', '.join(['%s'] * len(fields))})", values)


def insert_keyed(rows: Sequence[models.Model]) -> None:
    """Store new rows, all of one kind, and give each its key."""
    here = connections[DEFAULT_DB_ALIAS]
    if not rows:
        return
    if not _streams(here, rows):
        type(rows[0])._default_manager.bulk_create(rows, batch_size=BATCH)
        return
    fields = rows[0]._meta.concrete_fields
    table = here.ops.quote_name(rows[0]._meta.db_table)
    with here.cursor() as cursor:
        keys = "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)"
        cursor.execute(keys, [table, len(rows)])
        for row, (key,) in zip(rows, cursor.fetchall(), strict=True):
            row.pk, row._state.adding, row._state.db = key, False, DEFAULT_DB_ALIAS
        _stream(here, cursor, f"{table} ({', '.join(_quoted(fields, here))})", _values(rows, fields, here))


def _streams(here: BaseDatabaseWrapper, rows: Sequence[models.Model]) -> bool:
    return here.vendor == "postgresql" and len(rows) >= STREAMED


def _stream(here: BaseDatabaseWrapper, cursor: Any, into: str, values: Values) -> None:
    with here.wrap_database_errors, cursor.copy(f"COPY {into} FROM STDIN") as copy:
        for each in values:
            copy.write_row(each)


def _quoted(fields: Sequence[models.Field], here: BaseDatabaseWrapper) -> list[str]:
    return [here.ops.quote_name(str(field.column)) for field in fields]


def _values(rows: Sequence[models.Model], fields: Sequence[models.Field], here: BaseDatabaseWrapper) -> Values:
    written = [(field.attname, _prepared(field, here)) for field in fields]
    return [[prepared(getattr(row, name)) for name, prepared in written] for row in rows]


def _prepared(field: models.Field, here: BaseDatabaseWrapper) -> Callable[[Any], Any]:
    """A value as the database takes it. Most columns hold few different values, each of which is worked out once."""

    def prepared(value: Any) -> Any:
        return field.get_db_prep_save(value, here)

    return prepared if isinstance(field, models.JSONField) else cache(prepared)
