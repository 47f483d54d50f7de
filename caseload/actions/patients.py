"""Patients: added, corrected, and known by their numbers."""

from typing import Any

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.in_step import keep_in_step
from caseload.actions.settle import settle_all
from caseload.actions.wiping import invented
from caseload.errors import Refusal
from caseload.models import Identifier, Patient
from caseload.parsing.contact import read_phone
from caseload.parsing.identifiers import Scheme, read_hospital_number, read_identifier, read_nhs_number
from caseload.parsing.names import search_key
from caseload.reads.look_alikes import look_alikes
from caseload.reads.notices_wanted import keys_to_look_at
from caseload.reads.reach import unseen_by
from caseload.reads.timetables import with_sources
from caseload.wording import label

REACH = frozenset({"email", "email_consent", "postal_address", "interpreter"})
LONGEST_KEY = Patient._meta.get_field("search_key").max_length


@act(Act.PATIENT_ADD)
def add(*, by: By, nhs_number: str = "", hospital_number: str = "", sure: bool = True, **fields: Any) -> Patient:
    """Add a patient. Raises Refusal `number-taken` where an identifier already names somebody; and, unless `sure`,
    `look-alike` with the patients who may be this one. What is added to the demo is invented too.
    """
    if not sure:
        _nobody_alike(by, fields, {Scheme.NHS: nhs_number, Scheme.HOSPITAL: hospital_number})
    patient = Patient(demo=invented(by), **fields)
    for name, value in keys_of(patient.given, patient.family, patient.phone).items():
        setattr(patient, name, value)
    patient.save()
    known_by(patient, Scheme.NHS, nhs_number, by)
    known_by(patient, Scheme.HOSPITAL, hospital_number, by)
    trail(Act.PATIENT_ADD, patient, by=by, patient_id=patient.pk, changed={})
    return patient


@act(Act.PATIENT_CORRECT)
def correct(
    patient: Patient, *, by: By, version: int | None, numbers: dict[str, str] | None = None, **changes: Any
) -> Patient:
    """Correct what is known of a patient. A birth date may change what a hand may do, and an interpreter has to be
    told, so the episodes settle; how they are written to decides their notices.
    """
    fresh(patient, version)
    moved = apply(patient, changes | _keys(patient, changes))
    for scheme, typed in (numbers or {}).items():
        moved |= known_by(patient, Scheme(scheme), typed, by)
    if moved.keys() & {"born_on", "interpreter"}:
        settle_all(list(with_sources(patient.episodes.open())))
    if moved.keys() & REACH:
        keep_in_step(keys_to_look_at(by.at, patient=patient), by=by)
    trail(Act.PATIENT_CORRECT, patient, by=by, patient_id=patient.pk, changed=moved)
    return patient


def _nobody_alike(by: By, fields: dict[str, Any], numbers: dict[Scheme, str]) -> None:
    known = [read_identifier(scheme, typed) for scheme, typed in numbers.items() if typed]
    alike = look_alikes(fields["given"], fields["family"], fields.get("born_on"), known, by)
    if alike:
        raise Refusal(
            "look-alike",
            "Somebody like this is known already. Open them, or say that this is somebody else.",
            field="sure",
            alike=alike,
        )


def _keys(patient: Patient, changes: dict[str, Any]) -> dict[str, str]:
    given, family = changes.get("given", patient.given), changes.get("family", patient.family)
    return keys_of(given, family, changes.get("phone", patient.phone))


def keys_of(given: str, family: str, phone: str) -> dict[str, str]:
    """The normal forms by which a patient is found. Raises Refusal for a number that cannot be dialled."""
    phone_key = read_phone(phone).value if phone else ""
    return {"search_key": search_key(family, given)[:LONGEST_KEY], "phone_key": phone_key}


def known_by(patient: Patient, scheme: Scheme, typed: str, by: By) -> dict[str, tuple[object, object]]:
    """Give the patient this number of the scheme, in place of an earlier one; empty takes it away."""
    value = _normal(scheme, typed)
    was = Identifier.objects.filter(patient=patient, scheme=scheme).first()
    if (was.value if was else "") == value:
        return {}
    if was:
        was.delete()
    if value:
        _name(patient, scheme, value, typed, by)
    return {str(scheme): (was.value if was else "", value)}


def _normal(scheme: Scheme, typed: str) -> str:
    if not typed.strip():
        return ""
    read = read_nhs_number if scheme == Scheme.NHS else read_hospital_number
    return read(typed)


def _name(patient: Patient, scheme: Scheme, value: str, typed: str, by: By) -> None:
    try:
        with transaction.atomic():
            Identifier.objects.create(patient=patient, scheme=scheme, value=value, as_typed=typed.strip())
    except IntegrityError:
        other = Identifier.objects.select_related("patient").get(scheme=scheme, value=value).patient
        theirs = "a patient of a colleague" if unseen_by(by, [other.pk]) else f"{other}, born {other.born_on}"
        raise Refusal(
            "number-taken",
            f"This {label(scheme)} already belongs to {theirs}. Open that patient, or check the number.",
            field=str(scheme).replace("-", "_"),
            patient=other.code,
        ) from None
