"""The first line of a backup: which release made it, in which state its tables were, how many rows follow of each."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final

from django.db.models import AutoField, Field, Model

from caseload.errors import Refusal
from caseload.management.keeping.cells import kind_of

FORMAT: Final = "caseload-backup"
SHAPE: Final = 1
LEFT_OUT: Final = frozenset({"caseload_pulse"})
"""Which process of which machine was last alive says nothing about another machine."""


@dataclass(frozen=True, slots=True)
class Table:
    """`columns` are (name, kind), the key first. `key_used` is the highest key ever given out, so that none is given
    twice, not even one whose row is gone; None where the database does not make the keys."""

    name: str
    columns: tuple[tuple[str, str], ...]
    rows: int = 0
    key_used: int | None = None

    @property
    def key(self) -> str:
        return self.columns[0][0]

    @property
    def kinds(self) -> list[str]:
        return [kind for _, kind in self.columns]


@dataclass(frozen=True, slots=True)
class Heading:
    release: str
    migrations: tuple[str, ...]
    tables: tuple[Table, ...]

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables)

    def count(self, name: str) -> int:
        """How many rows a table has; 0 where it is not there."""
        return next((table.rows for table in self.tables if table.name == name), 0)

    def line(self) -> bytes:
        said = {"format": FORMAT, "shape": SHAPE} | asdict(self)
        return as_line(said)


def as_line(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def read_heading(line: bytes) -> Heading:
    """Raises Refusal `not-a-backup`, or `newer-backup` for a shape that is not known here."""
    try:
        said = json.loads(line)
    except ValueError:
        said = None
    if not isinstance(said, dict) or said.get("format") != FORMAT:
        raise Refusal("not-a-backup", "This is not a backup of the planner.")
    if said["shape"] != SHAPE:
        raise Refusal("newer-backup", f"This backup was made by release {said['release']}, which is newer than this.")
    tables = (Table(**each | {"columns": tuple(map(tuple, each["columns"]))}) for each in said["tables"])
    return Heading(said["release"], tuple(said["migrations"]), tuple(tables))


def tables_of(models: Iterable[type[Model]]) -> tuple[Table, ...]:
    """The tables of some models in order of their names, without counts."""
    found = (_table(model) for model in models if model._meta.db_table not in LEFT_OUT)
    return tuple(sorted(found, key=lambda table: table.name))


def _table(model: type[Model]) -> Table:
    key = model._meta.pk
    made_here = 0 if isinstance(key, AutoField) else None
    others = sorted((field for field in model._meta.local_concrete_fields if field is not key), key=_column)
    columns = tuple((_column(field), kind_of(field)) for field in (key, *others))
    return Table(model._meta.db_table, columns, key_used=made_here)


def _column(field: Field) -> str:
    return str(field.column)
