"""One cell of a table as JSON holds it, whatever the engine, and back.

Days are ISO days; instants are in UTC with six digits of a second; bytes are base64; what a JSON column holds is text
with sorted keys and numbers without an exponent, so that an empty column (null) and a JSON null ("null") stay apart.
"""

import json
from base64 import b64decode, b64encode
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final
from uuid import UUID

from django.db.models import Field

Form = Callable[[Any], Any]
_quickly = json.JSONEncoder(sort_keys=True, separators=(",", ":")).encode

KINDS: Final = {
    "BigAutoField": "number", "BigIntegerField": "number", "IntegerField": "number", "SmallIntegerField": "number",
    "PositiveBigIntegerField": "number", "PositiveIntegerField": "number", "PositiveSmallIntegerField": "number",
    "CharField": "text", "TextField": "text", "BooleanField": "truth", "DateField": "day",
    "DateTimeField": "instant", "JSONField": "json", "UUIDField": "uuid", "BinaryField": "bytes",
}  # fmt: skip


def kind_of(field: Field) -> str:
    """Which of the kinds a column is. Raises KeyError for a kind of field that has no form here yet."""
    while field.remote_field:
        field = field.target_field  # type: ignore[attr-defined]
    return KINDS[field.get_internal_type()]


def _day(value: str | date) -> str:
    return value if isinstance(value, str) else value.isoformat()


def _instant(value: str | datetime) -> str:
    at = datetime.fromisoformat(value) if isinstance(value, str) else value
    at = at.astimezone(UTC).replace(tzinfo=None) if at.tzinfo else at
    return f"{at.isoformat(timespec='microseconds')}Z"


def _json(value: Any) -> str:
    held = json.loads(value, parse_float=Decimal) if isinstance(value, str) else value
    try:
        return _quickly(held)
    except TypeError:  # a number with a point
        return plain_json(held)


def plain_json(value: Any) -> str:
    """JSON in one form only. A number keeps its digits, since a float would lose some of them on one engine."""
    if isinstance(value, dict):
        return "{" + ",".join(f"{json.dumps(name)}:{plain_json(value[name])}" for name in sorted(value)) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(plain_json, value)) + "]"
    if isinstance(value, Decimal):
        return format(abs(value) if value.is_zero() else value, "f")
    return json.dumps(value)


WRITTEN: Final[dict[str, Form]] = {
    "truth": bool,
    "day": _day,
    "instant": _instant,
    "json": _json,
    "uuid": lambda value: str(value if isinstance(value, UUID) else UUID(value)),
    "bytes": lambda value: b64encode(value).decode(),
}
"""From what a database gives to what a backup holds; what is not named stays as it is."""

_FOR_SQLITE: Final[dict[str, Form]] = {
    # As Django writes instants: compared as text, so digits that are all zero must not be there.
    "instant": lambda text: text.rstrip("Z").replace("T", " ").removesuffix(".000000"),
    "uuid": lambda text: text.replace("-", ""),
    "bytes": b64decode,
}
_FOR_POSTGRESQL: Final[dict[str, Form]] = {"bytes": b64decode}
READ: Final = {"sqlite": _FOR_SQLITE, "postgresql": _FOR_POSTGRESQL}
"""From what a backup holds to what each engine takes."""


def converted(row: list[Any], forms: list[tuple[int, Form]]) -> list[Any]:
    """The row with its cells in another form, in place; an empty cell stays empty."""
    for number, form in forms:
        if row[number] is not None:
            row[number] = form(row[number])
    return row


def forms_for(kinds: list[str], forms: dict[str, Form]) -> list[tuple[int, Form]]:
    """Which cells of a row change, and how."""
    return [(number, forms[kind]) for number, kind in enumerate(kinds) if kind in forms]
