"""Referrals: the request for therapy."""

from typing import Any

from caseload.access import Act
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.errors import Refusal
from caseload.models import Patient, Referral

DATES = ("received_on", "arrived_on", "ended_on")


@act(Act.REFERRAL_ADD)
def add(patient: Patient, *, by: By, **fields: Any) -> Referral:
    referral = Referral(patient=patient, recorded_at=by.at, **fields)
    _dates(referral, by)
    referral.save()
    trail(Act.REFERRAL_ADD, referral, by=by, patient_id=patient.pk, changed={})
    return referral


@act(Act.REFERRAL_CORRECT)
def correct(referral: Referral, *, by: By, version: int | None, **changes: Any) -> Referral:
    fresh(referral, version)
    if not changes.keys().isdisjoint(DATES):
        _dates(Referral(**{name: changes.get(name, getattr(referral, name)) for name in DATES}), by)
    moved = apply(referral, changes)
    trail(Act.REFERRAL_CORRECT, referral, by=by, patient_id=referral.patient_id, changed=moved)
    return referral


def _dates(referral: Referral, by: By) -> None:
    if referral.received_on > by.today:
        raise Refusal(
            "received-in-future", "A referral cannot be received after today. Check the date.", field="received_on"
        )
    if referral.arrived_on and referral.arrived_on > by.today:
        raise Refusal("arrived-in-future", "Nobody is transferred in after today. Check the date.", field="arrived_on")
    if referral.arrived_on and referral.arrived_on < referral.received_on:
        raise Refusal("arrived-before-receipt", "Who is transferred in was referred before. Check both dates.",
                      field="arrived_on")  # fmt: skip
    if referral.ended_on and referral.ended_on < referral.received_on:
        raise Refusal("ends-before-start", "A referral cannot end before it was received.", field="ended_on")
