"""Looking is recorded too: a patient's page, a list of patients, and a list that was taken away as a file."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from caseload.access import Act
from caseload.actions.act import By, act
from caseload.models import Look, Patient
from caseload.reads.reach import reasons

_told: ContextVar[set[int | None] | None] = ContextVar("told", default=None)


@contextmanager
def told() -> Iterator[set[int | None]]:
    """The keys of the patients whose looks are recorded meanwhile; None among them is a list."""
    keys: set[int | None] = set()
    token = _told.set(keys)
    try:
        yield keys
    finally:
        _told.reset(token)


def looked(patient: Patient, *, by: By, route: str) -> None:
    """Record that somebody opened a page about this patient."""
    looked_at([patient.pk], by=by, route=route)


def looked_at(patients: Iterable[int], *, by: By, route: str) -> None:
    """The same of a page about several patients, by key; with the reason by which the reader reaches one, if any."""
    rows = _looks(patients, by=by, route=route)
    Look.objects.bulk_create(rows)
    _tell(*(row.patient_id for row in rows))


def _looks(patients: Iterable[int], *, by: By, route: str) -> list[Look]:
    keys = sorted(set(patients))
    why = {} if by.why else reasons(by.staff, keys, by.at)
    return [Look(**_from(by) | {"why": by.why or why.get(key, "")}, patient_id=key, route=route) for key in keys]


def listed(*, by: By, route: str, rows: int) -> None:
    """Record that somebody opened a list of patients, of which it showed `rows`."""
    Look.objects.create(**_from(by), route=route, rows=rows)
    _tell(None)


def listed_beside(patient: int, *, by: By, route: str, rows: int) -> None:
    """Both at once, of a list with the page of one patient beside it."""
    Look.objects.bulk_create([*_looks([patient], by=by, route=route), Look(**_from(by), route=route, rows=rows)])
    _tell(patient, None)


@act(Act.LIST_EXPORT)
def exported(*, by: By, route: str, rows: int) -> Look:
    """Record that a list of `rows` rows was taken away as a file."""
    _tell(None)
    return Look.objects.create(**_from(by), route=route, rows=rows)


def _tell(*keys: int | None) -> None:
    if (told := _told.get()) is not None:
        told.update(keys)


def _from(by: By) -> dict[str, Any]:
    return {"at": by.at, "by": by.person, "origin": by.origin, "why": by.why}
