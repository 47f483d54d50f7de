"""Rows behind the codes in addresses, and what names them on every page about them."""

from typing import Any, Final, TypeVar

from django.db.models import Model
from django.http import Http404
from django.urls import reverse

from caseload.access import Act, may
from caseload.actions.act import By
from caseload.actions.yours import not_yours
from caseload.models import Episode, Patient
from caseload.reads.particulars import warnings_about
from caseload.reads.patient import identity, namesakes, open_flags
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import reached
from caseload.reads.timetables import with_sources
from caseload.web.forms.record import RecordForm

M = TypeVar("M", bound=Model)
_NAMED: Final = ("patient", "therapist", "referral")
_EPISODE: Final = PreparedModels(
    lambda code: with_sources(Episode.objects.select_related(*_NAMED)).filter(code=code).order_by()
)
_PATIENT: Final = PreparedModels(lambda code: Patient.objects.filter(code=code).order_by())


def episode_at(code: str) -> Episode:
    """The episode with everything that its page and its forms name, in one query."""
    return _only(_EPISODE(code))


def patient_at(code: str) -> Patient:
    return _only(_PATIENT(code))


def _only(rows: list[M]) -> M:
    if not rows:
        raise Http404
    return rows[0]


def theirs(patient_id: int, by: By) -> None:
    """Whom a form names, and not the address, is asked here. Raises Refusal `not-yours`."""
    if not reached(by.staff, patient_id, by.at):
        raise not_yours(patient_id)


def to_episode(episode: Episode, part: str = "") -> str:
    return reverse("episode", args=[episode.code]) + (f"#{part}" if part else "")


def to_patient(patient: Patient, part: str = "") -> str:
    return reverse("patient", args=[patient.code]) + (f"#{part}" if part else "")


def named(patient: Patient, by: By, episode: Episode | None = None) -> dict[str, Any]:
    """What the identity bar shows, what to mind about the person, and what the reader may do."""
    others, roles = namesakes(patient), by.roles
    return {
        "patient": patient,
        "episode": episode,
        "today": by.today,
        "identity": identity(patient),
        "namesakes": others,
        "flags": open_flags(patient, by.today, episode),
        "warnings": warnings_about(patient, others),
        "can": {act.name.lower(): may(roles, act) for act in Act},
    }


def who_it_is(form: RecordForm, about: dict[str, Any]) -> RecordForm:
    """The form, asking for the birth date where others on the caseload have the same name."""
    if about["namesakes"]:
        form.ask_birth_date(about["patient"].born_on)
    return form
