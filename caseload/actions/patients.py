"""Patients: added, corrected, and known by their numbers."""

from typing import Any

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.settle import settle_all
from caseload.errors import Refusal
from caseload.models import Identifier, Patient, Scheme
from caseload.parsing import read_hospital_number, read_nhs_number, search_key
from caseload.parsing import phone_key as phone_key_of
from caseload.reads.timetables import with_sources

FIELDS = ("given", "family", "born_on", "phone", "email", "language", "interpreter", "dressing_allergy")


@act(Act.PATIENT_ADD)
def add(*, by: By, nhs_number: str = "", hospital_number: str = "", **fields: Any) -> Patient:
    """Add a patient. Raises Refusal `number-taken` where an identifier already names somebody."""
    patient = Patient(demo=bool(by.staff and by.staff.demo), **fields)
    patient.search_key = search_key(patient.given, patient.family)
    patient.phone_key = phone_key_of(patient.phone)
    patient.save()
    known_by(patient, Scheme.NHS, nhs_number)
    known_by(patient, Scheme.HOSPITAL, hospital_number)
    trail(Act.PATIENT_ADD, patient, by=by, patient_id=patient.pk, changed={})
    return patient


@act(Act.PATIENT_CORRECT)
def correct(
    patient: Patient, *, by: By, version: int | None, numbers: dict[str, str] | None = None, **changes: Any
) -> Patient:
    """Correct what is known of a patient; a birth date may change what a hand may do, so the episodes settle."""
    fresh(patient, version)
    moved = apply(patient, changes | _keys(patient, changes))
    for scheme, typed in (numbers or {}).items():
        moved |= known_by(patient, Scheme(scheme), typed)
    if "born_on" in moved:
        settle_all(with_sources(patient.episodes.open()))
    trail(Act.PATIENT_CORRECT, patient, by=by, patient_id=patient.pk, changed=moved)
    return patient


def _keys(patient: Patient, changes: dict[str, Any]) -> dict[str, str]:
    given, family = changes.get("given", patient.given), changes.get("family", patient.family)
    return {"search_key": search_key(given, family), "phone_key": phone_key_of(changes.get("phone", patient.phone))}


def known_by(patient: Patient, scheme: Scheme, typed: str) -> dict[str, tuple[object, object]]:
    """Give the patient this number of the scheme, in place of an earlier one; empty takes it away."""
    value = _normal(scheme, typed)
    was = Identifier.objects.filter(patient=patient, scheme=scheme).first()
    if (was.value if was else "") == value:
        return {}
    if was:
        was.delete()
    if value:
        _name(patient, scheme, value, typed)
    return {str(scheme): (was.value if was else "", value)}


def _normal(scheme: Scheme, typed: str) -> str:
    if not typed.strip():
        return ""
    return read_nhs_number(typed) if scheme == Scheme.NHS else read_hospital_number(typed)


def _name(patient: Patient, scheme: Scheme, value: str, typed: str) -> None:
    try:
        with transaction.atomic():
            Identifier.objects.create(patient=patient, scheme=scheme, value=value, as_typed=typed.strip())
    except IntegrityError:
        other = Identifier.objects.select_related("patient").get(scheme=scheme, value=value).patient
        raise Refusal(
            "number-taken",
            f"This {scheme.label} already belongs to {other}, born {other.born_on}. "
            "Open that patient, or check the number.",
            field=str(scheme).replace("-", "_"),
            patient=other.code,
        ) from None
