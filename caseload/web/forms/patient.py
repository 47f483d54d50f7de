"""The person, the numbers by which others know them, and the request for therapy."""

from collections.abc import Callable, Iterator
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from caseload.models import Patient, ReferralEnd
from caseload.parsing import (
    Priority,
    Scheme,
    read_email,
    read_hospital_number,
    read_name,
    read_nhs_number,
    read_phone,
    tidy,
)  # fmt: skip
from caseload.web.forms.fields import BirthDateField, DayField, LineField, NotesField, ReadField
from caseload.web.forms.record import Groups, RecordForm, words

ENVELOPE_LINES = 6
NUMBERS = {"nhs_number": Scheme.NHS, "hospital_number": Scheme.HOSPITAL}


def as_typed(read: Callable[[str], Any]) -> Callable[[str], str]:
    """Check with a reader, and keep what was typed: an act stores both forms."""

    def check(text: str) -> str:
        read(text)
        return tidy(text)

    return check


class PatientForm(RecordForm):
    family = ReadField(read_name, label="Family name", widget=forms.TextInput({"autocomplete": "off"}))
    given = ReadField(read_name, label="Given name", widget=forms.TextInput({"autocomplete": "off"}))
    born_on = BirthDateField(label="Birth date", required=False, help_text="Day first, with the year: 3/4/1961.")
    nhs_number = ReadField(as_typed(read_nhs_number), label="NHS number", required=False, max_length=60)
    hospital_number = ReadField(as_typed(read_hospital_number), label="Hospital number", required=False, max_length=60)
    phone = ReadField(as_typed(read_phone), label="Telephone", required=False)
    email = ReadField(read_email, label="E-mail", required=False, max_length=254)
    email_consent = forms.BooleanField(
        label="Agrees to be written to by e-mail", required=False,
        help_text="News of appointments and reminders. Who needs an interpreter is rung all the same.",
    )  # fmt: skip
    postal_address = NotesField(
        label="Postal address", most=300, required=False,
        help_text="Without the name, as on an envelope: at most six lines. Letters go there where no e-mail may.",
    )  # fmt: skip
    language = LineField(label="Preferred language", most=60, required=False)
    interpreter = forms.BooleanField(label="Needs an interpreter", required=False)
    dressing_allergy = LineField(
        label="Dressing allergy", most=120, required=False, help_text="What they react to. Empty if none is known."
    )
    groups: Groups = (
        ("Who it is", ("family", "given", "born_on", "nhs_number", "hospital_number")),
        ("How to reach them", ("phone", "email", "email_consent", "postal_address", "language", "interpreter")),
        ("What to watch for", ("dressing_allergy",)),
    )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("email_consent") and not said.get("email") and "email" not in self.errors:
            self.add_error("email", forms.ValidationError("Give the address, or take the consent away.", "needed"))
        if len(said.get("postal_address", "").splitlines()) > ENVELOPE_LINES:
            too_long = "The window of an envelope shows six lines: put some together."
            self.add_error("postal_address", forms.ValidationError(too_long, "too-many-lines"))
        return said

    def fields_said(self) -> dict[str, Any]:
        return {name: value for name, value in self.said().items() if name not in NUMBERS}

    def numbers_said(self) -> dict[str, str]:
        return {str(scheme): self.cleaned_data[name] for name, scheme in NUMBERS.items()}


class NewPatientForm(PatientForm):
    """Asks whether it is somebody else once somebody alike is known."""

    sure = forms.BooleanField(label="This is somebody else: add a new patient", required=False)
    groups: Groups = (*PatientForm.groups, ("Is it somebody who is known already?", ("sure",)))

    def shown(self) -> Iterator[tuple[str, list[BoundField]]]:
        asked = self.has_error("sure") or "sure" in self.data
        return ((legend, fields) for legend, fields in super().shown() if asked or fields[0].name != "sure")


def known_now(patient: Patient) -> dict[str, Any]:
    """What is known of a patient, as the form's first values."""
    names = [name for name in PatientForm.base_fields if hasattr(patient, name)]
    numbers = {row.scheme: row.as_typed for row in patient.identifiers.all()}
    return {name: getattr(patient, name) for name in names} | {
        name: numbers.get(scheme, "") for name, scheme in NUMBERS.items()
    }


class ReferralForm(RecordForm):
    received_on = DayField(label="Received on", help_text="As you write it: 3/4, 3 apr, today, yesterday.")
    source = LineField(label="From whom", most=120)
    priority = forms.ChoiceField(
        label="Priority", choices=lambda: words(Priority), widget=forms.RadioSelect, initial=Priority.ROUTINE
    )
    reason = LineField(label="Why", most=200, required=False)
    arrived_on = DayField(
        label="Transferred in on", required=False,
        help_text="If another clinic received it first: the day on which it came to us.",
    )  # fmt: skip
    groups: Groups = (("The request", ("received_on", "source", "priority", "reason", "arrived_on")),)


class CorrectReferralForm(ReferralForm):
    ended_on = DayField(label="Ended on", required=False)
    ended_how = forms.ChoiceField(
        label="How it ended", choices=[("", "still running"), *ReferralEnd.choices], required=False
    )
    groups: Groups = (*ReferralForm.groups, ("How it ended, if it did", ("ended_on", "ended_how")))

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("ended_on") and not said.get("ended_how"):
            self.add_error("ended_how", "Say how it ended, or take the day away.")
        if said.get("ended_how") and not said.get("ended_on") and "ended_on" not in self.errors:
            self.add_error("ended_on", "Say on which day it ended, or choose still running.")
        return said
