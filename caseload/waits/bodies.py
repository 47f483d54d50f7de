"""Figures as JSON and back again, told by the types of their fields: what was filed is read as it was made.

`read(kind, write(value)) == value` for everything in `waits.figures`. Days are written as 2026-10-31. A field that a
body does not have yet is left to its default.
"""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

Json = dict[str, Any] | list[Any] | str | int | float | bool | None


def write(value: Any) -> Json:
    """Named tuples as objects, other sequences as lists. Raises TypeError on what has no form."""
    if hasattr(value, "_asdict"):
        return {name: write(field) for name, field in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(key): write(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [write(each) for each in value]
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, str | int | float):
        return value
    raise TypeError(f"{type(value).__name__} has no form in a body")


def read(kind: Any, body: Any) -> Any:
    """The value of type `kind` that was written as `body`. Raises KeyError, TypeError or ValueError on another."""
    if isinstance(kind, UnionType):
        return None if body is None else read(_only(kind), body)
    origin, inner = get_origin(kind), get_args(kind)
    if origin is dict:
        return {read(inner[0], key): read(inner[1], each) for key, each in body.items()}
    if origin is tuple:
        kinds = inner[:1] * len(body) if inner[-1] is Ellipsis else inner
        return tuple(read(each, value) for each, value in zip(kinds, body, strict=True))
    if hasattr(kind, "_fields"):
        return _read_fields(kind, body)
    return date.fromisoformat(body) if kind is date else _plain(kind, body)


def _only(kind: UnionType) -> Any:
    """X of X | None."""
    return next(each for each in get_args(kind) if each is not NoneType)


def _read_fields(kind: Any, body: Any) -> Any:
    hints = _hints(kind)
    return kind(**{name: read(hints[name], body[name]) for name in kind._fields if name in body})


@lru_cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _plain(kind: Any, body: Any) -> Any:
    """A number without an exponent may come back as a whole one: a float stays a float."""
    if kind is float or issubclass(kind, StrEnum):
        return kind(body)
    if not isinstance(body, kind):
        raise TypeError(f"{body!r} is not {kind.__name__}")
    return body
