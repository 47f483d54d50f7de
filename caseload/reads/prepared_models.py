"""Rows of models by a text that is made once (`prepared.py`): for pages that ask many things about one record."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection
from django.db.models import Model, QuerySet
from django.db.models.query import get_related_populators

from caseload.reads.prepared import Prepared, Value

M = TypeVar("M", bound=Model)


class PreparedModels(Prepared, Generic[M]):
    """Models of `make(*values)`, which is a query of them, with what it selects along (`select_related`)."""

    def __init__(self, make: Callable[..., QuerySet[M]]) -> None:
        super().__init__(make)
        self._makers: dict[str, Callable[[tuple[Any, ...]], M]] = {}

    def __call__(self, *values: Value) -> list[M]:  # type: ignore[override]
        rows = super().__call__(*values)
        return [self._maker(values)(row) for row in rows]

    def _maker(self, values: Sequence[Value]) -> Callable[[tuple[Any, ...]], M]:
        """How a row becomes a model: from its columns alone, whatever the values."""
        made = self._makers.get(connection.vendor)
        return made or self._makers.setdefault(connection.vendor, _maker(self._make(*values)))


def _maker(query: QuerySet[M]) -> Callable[[tuple[Any, ...]], M]:
    compiler = query.query.get_compiler(DEFAULT_DB_ALIAS)
    compiler.pre_sql_setup()
    info, select, added = compiler.klass_info, compiler.select, compiler.annotation_col_map or {}
    first, *_, last = info["select_fields"]
    names = [column.target.attname for column, *_ in select[first : last + 1]]
    along = get_related_populators(info, select, DEFAULT_DB_ALIAS)  # type: ignore[call-arg]

    def made(row: tuple[Any, ...]) -> M:
        model: M = info["model"].from_db(DEFAULT_DB_ALIAS, names, row[first : last + 1])
        for each in along:
            each.populate(row, model)
        for name, place in added.items():
            setattr(model, name, row[place])
        return model

    return made


def by_key(rows: Iterable[M], name: str) -> dict[int, list[M]]:
    """Rows by the key that a column of theirs holds."""
    found: dict[int, list[M]] = defaultdict(list)
    for row in rows:
        found[getattr(row, name)].append(row)
    return found


def put(rows: Iterable[Model], name: str, found: Mapping[int, Sequence[Model]]) -> None:
    """What `prefetch_related(name)` leaves with each row, of those found by its key."""
    for row in rows:
        manager = getattr(row, name)
        known = manager.get_queryset()
        known._result_cache, known._prefetch_done = list(found.get(row.pk, ())), True
        row.__dict__.setdefault("_prefetched_objects_cache", {})[name] = known
