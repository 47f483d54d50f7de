"""Records kept beyond their time for a reason, and records removed when their time is over.

A removal takes every row about a person in every table (`reads.held`) in one transaction; what stays is that the
record with this code went, and a digest of each entry of the trail, so that the seals over it still hold.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any, Final

from django.db import DEFAULT_DB_ALIAS, connection, transaction
from django.db.models import Model
from django.utils import timezone

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.sealing import let_go
from caseload.actions.turns import in_turn
from caseload.errors import Refusal
from caseload.models import Job, Look, Patient, Staff, TrailEntry
from caseload.reads.held import PARTS, whose
from caseload.reads.retention import times
from caseload.wording.retention import say_removed

KIND: Final = "retention"
AT_ONCE: Final = 500
"""Records that one job removes."""


@act(Act.RECORD_KEEP)
def keep(patient: Patient, *, by: By, version: int | None, keep_why: str, keep_until_on: date | None) -> Patient:
    """Keep a record beyond its time; without a reason, no longer than others. Raises Refusal `why-missing`."""
    if keep_until_on and not keep_why:
        raise Refusal("why-missing", "Say why it is kept until then.", field="keep_why")
    fresh(patient, version)
    moved = apply(patient, {"keep_why": keep_why, "keep_until_on": keep_until_on})
    trail(Act.RECORD_KEEP, patient, by=by, patient_id=patient.pk, changed=moved)
    return patient


@act(Act.RECORD_REMOVE)
def ask(codes: Sequence[str], *, by: By) -> Job:
    """Ask for the removal of these records, of at most AT_ONCE. Each is looked at once more before it goes."""
    if not codes or len(codes) > AT_ONCE:
        raise Refusal("none-over", "There is no record here whose time is over.")
    job = jobs.ask(KIND, by=by, codes=list(codes), staff=by.person.pk)
    trail(Act.RECORD_REMOVE, job, by=by, patient_id=None, changed={"records asked to be removed": (0, len(codes))})
    return job


@act(Act.RECORD_REMOVE)
def remove(patient: Patient, *, by: By) -> int:
    """Remove everything about a person; how many rows went. Raises Refusal `record-kept` where its time is not over,
    and `needs-a-person`.
    """
    by.person  # noqa: B018  somebody answers for it
    list(Patient.objects.select_for_update().filter(pk=patient.pk))
    _refuse_unless_over(patient, by.today)
    keys = keys_of(patient)
    _write_over()
    let_go(_rows(TrailEntry, keys), _rows(Look, keys), by.at)
    for model in keys.keys() - {TrailEntry, Look}:
        _rows(model, keys)._raw_delete(DEFAULT_DB_ALIAS)
    count = sum(map(len, keys.values()))
    trail(
        Act.RECORD_REMOVE, patient, by=by, patient_id=None, changed={"record": (patient.code, ""), "rows": (count, 0)}
    )
    return count


def _refuse_unless_over(patient: Patient, today: date) -> None:
    same = Patient.objects.filter(merged_into=patient.pk).values_list("pk", flat=True)
    found = {code: time for code, _, time in times({patient.pk, *same})}
    if patient.code not in found or not found[patient.code].over(today):
        raise Refusal("record-kept", "The time of this record is not over. Nothing of it was removed.")


def keys_of(patient: Patient) -> dict[type[Model], list[int]]:
    """The keys of every row about a person, by table: read first, since rows lead to the person through each other."""
    found = whose(patient)
    return {part.model: list(part.rows(found).values_list("pk", flat=True)) for part in PARTS}


def _rows(model: type[Model], keys: dict[type[Model], list[int]]) -> Any:
    """References between them are looked at when the transaction ends, so the order of the tables does not matter."""
    return model._base_manager.filter(pk__in=keys[model])


def _write_over() -> None:
    """SQLite leaves what was deleted in the file until the place is used again, unless it is told not to."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA secure_delete = ON")


@jobs.kind(KIND, leaves=lambda job: _said(job))
def run(job: Job) -> jobs.Steps:
    """A record a step: whole or not at all. One that is gone already is passed over, so a killed run goes on."""
    codes = job.asked["codes"]
    for done, code in enumerate(codes):
        yield done, len(codes)
        _step(job, code)
    yield len(codes), len(codes)
    return _said(job)


def _step(job: Job, code: str) -> None:
    with in_turn(), transaction.atomic():
        patient = Patient.objects.filter(code=code).first()
        if patient:
            word = "removed" if remove_if_over(patient, by_of(job)) else "kept"
            jobs.reach(job, **job.reached | {word: job.reached.get(word, 0) + 1})


def remove_if_over(patient: Patient, by: By) -> bool:
    """Remove a record; False where it is kept, because something changed since it was listed."""
    try:
        remove(patient, by=by)
    except Refusal as refusal:
        if refusal.code != "record-kept":
            raise
        return False
    return True


def by_of(job: Job) -> By:
    now = timezone.now()
    return By(Staff.objects.get(pk=job.asked["staff"]), now, timezone.localdate(now), origin=f"job {job.code}")


def _said(job: Job) -> str:
    return say_removed(job.reached.get("removed", 0), job.reached.get("kept", 0))
