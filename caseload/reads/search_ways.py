"""The ways in which a search looks for patients, each in texts that are made once."""

from collections.abc import Callable
from typing import Any, Final

from django.db import connection
from django.db.models import BooleanField, F, Func, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from caseload.models import Identifier, Patient
from caseload.parsing.identifiers import Scheme
from caseload.reads.prepared import Prepared
from caseload.reads.prepared import Value as Asked
from caseload.reads.reach import Limits, many_within

SHOWN: Final = 50
MOST: Final = 200
"""So many are looked at by each way, before it is asked again within reach."""
LAST_LETTER: Final = "\uffff"


class Like(Func):
    """Whether a text has this pattern. Names in their normal form hold no sign that a pattern would read."""

    template = "%(expressions)s"
    arg_joiner = " LIKE "
    output_field = BooleanField()


class Way:
    """A way to look for patients, in texts that are made once: of everybody, and of whom a reader reaches."""

    def __init__(self, make: Callable[..., QuerySet[Patient]]) -> None:
        self._all = Prepared(lambda *values: _keyed(make(*values))[:MOST])
        self._reached = Prepared(lambda *values: _keyed(many_within(*_apart(make, values), "pk"))[: SHOWN + 1])

    def first(self, *values: Asked, limits: Limits | None = None) -> list[tuple[int, str]]:
        """Key and name of the first `MOST`; within reach of as many as tell that there are more than are shown."""
        return self._reached(*values, *limits) if limits else self._all(*values)


def _apart(make: Callable[..., QuerySet[Patient]], values: tuple[Any, ...]) -> tuple[QuerySet[Patient], Limits]:
    own = len(values) - len(Limits._fields)
    return make(*values[:own]), Limits(*values[own:])


def _everybody() -> QuerySet[Patient]:
    """Said as what is left out: SQLite takes IS NULL for something that few have, and reads them all by that index."""
    return Patient.objects.exclude(merged_into__isnull=False).order_by("search_key", "pk")


def _few() -> QuerySet[Patient]:
    """The same for what few have. Sorted by no column as it stands: read in the order of its index, as a database
    likes to where it will be sorted by it, everybody would be looked at until the few are met."""
    return _everybody().order_by(Coalesce("search_key", Value("")), "pk")


def _keyed(patients: QuerySet[Patient]) -> QuerySet[Patient, Any]:
    return patients.values_list("pk", "search_key")


def _holding(*patterns: str) -> QuerySet[Patient]:
    found = _everybody()
    for pattern in patterns:
        found = found.filter(Like(F("search_key"), Value(pattern)))
    return found


def _beginning(first: str, last: str) -> QuerySet[Patient]:
    """SQLite uses no index for LIKE. PostgreSQL may sort letters otherwise, but no name before its own beginning."""
    ends = Q(search_key__lt=last) if connection.vendor == "sqlite" else Q(Like(F("search_key"), Value(last)))
    return _everybody().filter(ends, search_key__gte=first)


def range_of(beginning: str) -> tuple[str, str]:
    """What `_beginning` asks with."""
    return beginning, beginning + (LAST_LETTER if connection.vendor == "sqlite" else "%")


def _numbered(*values: str) -> QuerySet[Patient]:
    numbers = Identifier.objects.filter(scheme__in=Scheme, value__in=values)
    return _few().filter(pk__in=numbers.order_by().values("patient"))


HOLDING: Final = Way(_holding)
BEGINNING: Final = Way(_beginning)
NUMBERED: Final = Way(_numbered)
BORN: Final = Way(lambda on: _few().filter(born_on=on))
NAMED: Final = Way(lambda keys: _few().filter(pk__in=keys))
RUNG: Final = Way(lambda first, last: _few().filter(phone_key__gte=first, phone_key__lt=last))
