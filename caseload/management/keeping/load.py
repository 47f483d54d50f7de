"""The rows of a backup into an empty database, and what must hold of them there."""

import json
import re
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Any, Final

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, IntegrityError, OperationalError, connection
from django.db.models import Model

from caseload.actions.triggers import GUARDS
from caseload.errors import Refusal
from caseload.management.keeping.cells import READ, converted, forms_for
from caseload.management.keeping.dump import AT_ONCE, Progress, given_out
from caseload.management.keeping.heading import Heading, Table
from caseload.management.keeping.state import APP

NAMED_AT_MOST: Final = 5
KEEPS_MIGRATIONS: Final = "django_migrations"


def what_is_there() -> dict[str, int]:
    """Rows of ours by their name; tables that are not the planner's by theirs, with whatever they hold."""
    there = set(connection.introspection.table_names())
    ours = {model._meta.db_table: _plural(model) for model in apps.get_app_config(APP).get_models()}
    strange = there - set(connection.introspection.django_table_names()) - {KEEPS_MIGRATIONS, *caches()}
    counts = {ours.get(table, f"rows of {table}"): _count(table) for table in sorted((there & set(ours)) | strange)}
    return {name: count for name, count in counts.items() if count}


def _plural(model: type[Model]) -> str:
    return re.sub(r"([^aeiou])ys$", r"\1ies", str(model._meta.verbose_name_plural))


def caches() -> set[str]:
    return {str(cache.get("LOCATION")) for cache in settings.CACHES.values()}


def _count(table: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")
        return int(cursor.fetchone()[0])


def refuse_unless_empty() -> None:
    """Raises Refusal `not-empty` that names what is there."""
    if found := what_is_there():
        most = sorted(found.items(), key=lambda item: -item[1])
        said = ", ".join(f"{count:,} {name}" for name, count in most[:NAMED_AT_MOST])
        more = f" and {len(most) - NAMED_AT_MOST} kinds of rows more" if len(most) > NAMED_AT_MOST else ""
        raise Refusal(
            "not-empty",
            f"This database is not empty: it holds {said}{more}. Nothing was changed. Restore into an empty one "
            "(DATABASE_URL names it); a demo is taken away by python manage.py demo --wipe.",
        )


def load(heading: Heading, lines: Iterator[bytes], progress: Progress | None) -> None:
    """Put every row where it was. Raises Refusal `row-refused` that names the table, never what is in the row."""
    done = 0
    for table in heading.tables:
        rows = map(json.loads, islice(lines, table.rows))
        while some := list(islice(rows, AT_ONCE)):
            _put(table, some)
            done += len(some)
            if progress:
                progress(done)
    set_keys(heading.tables)


def _put(table: Table, rows: list[list[Any]]) -> None:
    forms = forms_for(table.kinds, READ[connection.vendor])
    first = rows[0][0]
    put = _insert if connection.vendor == "sqlite" else _copy
    try:
        put(table, (converted(row, forms) for row in rows))
    except DatabaseError as error:
        if isinstance(error, OperationalError):
            raise  # no room, or no database any more: nothing about the rows
        raise Refusal(
            "row-refused",
            f"The database refuses a row of {table.name}, one of the {len(rows)} from key {first} on: {_why(error)}. "
            "Nothing was restored.",
        ) from None


def _why(error: DatabaseError) -> str:
    """The rule that was broken, or the column: the whole message would tell what is in the row."""
    told = getattr(error.__cause__, "diag", None)
    if told is None:
        return str(error) if isinstance(error, IntegrityError) else type(error).__name__
    column = re.search(r", column (\w+)", told.context or "")
    return told.constraint_name or (f"column {column[1]}" if column else type(error).__name__)


def _names(table: Table) -> str:
    quote = connection.ops.quote_name
    return f"{quote(table.name)} ({', '.join(quote(name) for name, _ in table.columns)})"


def _insert(table: Table, rows: Iterable[list[Any]]) -> None:
    with connection.cursor() as cursor:
        marks = ", ".join(["%s"] * len(table.columns))
        cursor.executemany(f"INSERT INTO {_names(table)} VALUES ({marks})", list(rows))


def _copy(table: Table, rows: Iterable[list[Any]]) -> None:
    order = f"COPY {_names(table)} FROM STDIN"
    with connection.wrap_database_errors, connection.cursor() as cursor, cursor.copy(order) as into:
        for row in rows:
            into.write_row(row)


def set_keys(tables: Iterable[Table]) -> None:
    """Let the next key of each table be one that was never given out: the trail names rows by key for good."""
    with connection.cursor() as cursor:
        for table in tables:
            if table.key_used:
                _set_key(cursor, table, max(table.key_used, given_out(connection, cursor, table)))


def _set_key(cursor: Any, table: Table, used: int) -> None:
    if connection.vendor == "sqlite":
        cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table.name])
        cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table.name, used])
    else:
        cursor.execute("SELECT setval(pg_get_serial_sequence(%s, %s), %s)", [table.name, table.key, used])


def refuse_unpaired() -> None:
    """What the triggers would have asked of each row as it came in. Raises Refusal `row-refused`."""
    with connection.cursor() as cursor:
        for guard in GUARDS:
            if guard.event == "INSERT":
                cursor.execute(f"SELECT count(*) FROM {guard.table} AS new WHERE NOT ({guard.unless})")
                if broken := cursor.fetchone()[0]:
                    raise Refusal("row-refused", f"{broken} rows of {guard.table} break a rule: {guard.says}.")
