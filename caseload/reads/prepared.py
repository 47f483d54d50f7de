"""Queries of lists whose text is worked out once: Django takes longer over it than a database over its answer.

The text is made from stand-ins, one for each value, and then asked with values in their places. So a value may be a
day, an instant, a text, a key or keys of rows, and nothing in the text may hang on which ones they are.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import count
from typing import Any, Final, NamedTuple

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.models import BooleanField, DateField, QuerySet

One = date | datetime | int | str
Value = One | Sequence[int]
STAND_IN: Final = datetime(1000, 1, 1, tzinfo=UTC)
FEWEST: Final = 25
"""Keys are asked in groups of this size, doubled until they fit; what is left is filled."""


class Text(NamedTuple):
    """`params` of the statement, of which those at `places` give way to values; `fields` say how to read a column,
    by its place, of those that are not read as they come."""

    sql: str
    params: tuple[Any, ...]
    places: tuple[tuple[int, int], ...]
    fields: tuple[tuple[int, Any], ...]


class Prepared:
    """Rows of `make(*values)`, which is a `values_list` in which each value stands once or more."""

    def __init__(self, make: Callable[..., QuerySet[Any, Any]]) -> None:
        self._make = make
        self._texts: dict[tuple[object, ...], Text] = {}

    def __call__(self, *values: Value) -> list[tuple[Any, ...]]:
        if any(_is_of_none(value) for value in values):
            return []
        given = [value if isinstance(value, One) else _filled(value) for value in values]
        shape = (connection.vendor, *(type(value) if isinstance(value, One) else len(value) for value in given))
        text = self._texts.get(shape) or self._texts.setdefault(shape, _written(self._make, given))
        params, put = list(text.params), list(_each(given))
        for place, number in text.places:
            params[place] = put[number]
        with connection.cursor() as cursor:
            cursor.execute(text.sql, params)
            return _read(cursor.fetchall(), text.fields)


def _is_of_none(value: Value) -> bool:
    """No row has one of no keys, nor a text with a NUL, which PostgreSQL would not even take as a question."""
    return "\0" in value if isinstance(value, str) else not isinstance(value, One) and not value


def _filled(keys: Sequence[int]) -> list[int]:
    """With keys that no row has: of one key said 25 times PostgreSQL would expect 25 times its rows."""
    size = next(size for size in (FEWEST << power for power in count()) if size >= len(keys))
    return [*keys, *range(len(keys) - size, 0)]


def _each(values: Iterable[Value]) -> Iterator[Any]:
    """One after the other, as the database is given them: SQLite has days and instants as text."""
    for value in values:
        if isinstance(value, datetime):
            yield connection.ops.adapt_datetimefield_value(value)
        elif isinstance(value, date):
            yield connection.ops.adapt_datefield_value(value)
        else:
            yield from [value] if isinstance(value, int | str) else value


def _written(make: Callable[..., QuerySet[Any, Any]], values: Sequence[Value]) -> Text:
    """The text for values of this shape, from stand-ins that no query holds by itself."""
    numbers = count()
    standing = [
        _stand_in(value, next(numbers)) if isinstance(value, One) else [-1 - next(numbers) for _ in value]
        for value in values
    ]
    compiler = make(*standing).query.get_compiler(DEFAULT_DB_ALIAS)
    sql, params = compiler.as_sql()
    known = {each: number for number, each in enumerate(_each(standing))}
    places = tuple((place, known[param]) for place, param in enumerate(params) if param in known)
    assert {number for _, number in places} == set(range(next(numbers))), sql
    fields = enumerate(field for field, *_ in compiler.select[: compiler.col_count])
    return Text(sql, tuple(params), places, tuple((place, field) for place, field in fields if _converters(field)))


def _converters(field: Any, database: Any = connection) -> list[Callable[..., Any]]:
    return [*database.ops.get_db_converters(field), *field.get_db_converters(database)]


def _stand_in(value: One, number: int) -> One:
    if isinstance(value, int | str):
        return -1 - number if isinstance(value, int) else f"text {number}"
    instant = STAND_IN + timedelta(days=number)
    return instant if isinstance(value, datetime) else instant.date()


def _read(rows: list[tuple[Any, ...]], fields: Iterable[tuple[int, Any]]) -> list[tuple[Any, ...]]:
    """As the model has them, a column at a time."""
    if not rows:
        return []
    columns, database = list(zip(*rows, strict=True)), connections[DEFAULT_DB_ALIAS]
    for place, field in fields:
        for convert in _converters(field, database):
            columns[place] = _converted(columns[place], convert, field)
    return list(zip(*columns, strict=True))


def _converted(column: tuple[Any, ...], convert: Callable[..., Any], field: Any) -> tuple[Any, ...]:
    """A day is converted once, however many rows have it; what could be changed is each row's own."""
    if not isinstance(field.output_field, DateField | BooleanField):
        return tuple(convert(value, field, connection) for value in column)
    known = {value: convert(value, field, connection) for value in set(column)}
    return tuple(known[value] for value in column)
