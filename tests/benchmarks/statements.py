"""The bare statements that a piece of work comes to: one for each row that it writes, changes or deletes."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from django.db import connection, transaction
from django.db.models import Model

Statement = tuple[str, Any]
"""With its values."""


class Recorder:
    """The changes and deletions of a piece of work."""

    def __init__(self) -> None:
        self.writes: list[Statement] = []

    def __call__(self, execute: Callable[..., object], sql: str, params: Any, many: bool, context: object) -> object:
        if sql.split()[0] in ("UPDATE", "DELETE"):
            self.writes += [(sql, each) for each in (params if many else [params])]
        return execute(sql, params, many, context)


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        try:
            yield
        finally:
            transaction.set_rollback(True)


def inserted(row: Model) -> Statement:
    """The statement that writes this row, its key included."""
    fields = row._meta.concrete_fields
    columns = ", ".join(f'"{field.column}"' for field in fields)
    values = [field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields]
    marks = ", ".join(["%s"] * len(fields))
    return f'INSERT INTO "{row._meta.db_table}" ({columns}) VALUES ({marks})', values


def execute(statements: Iterable[Statement]) -> None:
    with connection.cursor() as cursor:
        for sql, params in statements:
            cursor.execute(sql, params)


def create(rows: Mapping[type[Model], Sequence[dict[str, Any]]]) -> None:
    """Rows of ready values, by their tables, in one transaction."""
    with transaction.atomic():
        for model, ready in rows.items():
            model._default_manager.bulk_create([model(**row) for row in ready], batch_size=500)
