"""Calls and messages: logged."""

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.models import Contact, Episode, Patient


@act(Act.CONTACT_LOG)
def log(patient: Patient, *, by: By, how: str, reached: str, text: str = "", episode: Episode | None = None) -> Contact:
    contact = Contact.objects.create(
        patient=patient, episode=episode, how=how, reached=reached, text=text, by=by.person, at=by.at
    )
    trail(Act.CONTACT_LOG, contact, by=by, patient_id=patient.pk, changed={"reached": ("", reached)})
    return contact
