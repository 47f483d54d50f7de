"""Many rows written by one prepared statement that runs once for each row.

Django's own `bulk_create` and `bulk_update` take longer to put the statement into words than the database to carry it
out. Here it is put into words once.
"""

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections, models


def rewrite(rows: Sequence[models.Model], names: Sequence[str]) -> None:
    """Write the fields `names` of rows that are stored already."""
    if not rows:
        return
    meta, quoted = rows[0]._meta, connection.ops.quote_name
    fields = [field for field in meta.concrete_fields if field.name in names]
    wanted = ", ".join(f"{quoted(str(field.column))} = %s" for field in fields)
    written = [*fields, *(field for field in meta.concrete_fields if field.name == "id")]
    _run(f"UPDATE {quoted(meta.db_table)} SET {wanted} WHERE id = %s", rows, written)


def insert(rows: Sequence[models.Model]) -> None:
    """Store new rows, all of one kind, whose keys nobody asks for afterwards: they are not given one."""
    if not rows:
        return
    meta, quoted = rows[0]._meta, connection.ops.quote_name
    fields = [field for field in meta.concrete_fields if not field.primary_key]
    columns = ", ".join(quoted(str(field.column)) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    _run(f"INSERT INTO {quoted(meta.db_table)} ({columns}) VALUES ({places})", rows, fields)


def _run(statement: str, rows: Sequence[models.Model], fields: Sequence[models.Field]) -> None:
    written = [(field.attname, _prepared(field)) for field in fields]
    values = [[prepared(getattr(row, name)) for name, prepared in written] for row in rows]
    with connection.cursor() as cursor:
        cursor.executemany(statement, values)


def _prepared(field: models.Field) -> Callable[[Any], Any]:
    """A value as the database takes it. Most columns hold few different values, each of which is worked out once."""
    here = connections[DEFAULT_DB_ALIAS]

    def prepared(value: Any) -> Any:
        return field.get_db_prep_save(value, here)

    return prepared if isinstance(field, models.JSONField) else cache(prepared)
