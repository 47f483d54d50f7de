"""What the trail can be filtered by. Every field is a choice from a list or a typed day."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.utils.safestring import SafeString

from caseload.models import Patient, Staff
from caseload.reads.trail import ENTRIES, LOOKS, PLANNER, REASONS
from caseload.web.controls import select
from caseload.web.forms.fields import DayField
from caseload.wording.record import ACTS


class TrailFilters(forms.Form):
    """`query` is what was asked for as an address carries it; what could not be read is left out and said so."""

    who = forms.ChoiceField(required=False)
    what = forms.ChoiceField(required=False)
    act = forms.ChoiceField(required=False)
    first = DayField(required=False, label="From day")
    last = DayField(required=False, label="Until day")

    def __init__(self, asked: Mapping[str, str], *, today: date) -> None:
        super().__init__(asked, auto_id="filter-%s", label_suffix="")
        self.patient = Patient.objects.filter(code=asked.get("patient", "")[:12].replace("\0", "")).first()
        people = Staff.objects.order_by("name", "id").values_list("code", "name")
        self._choose("who", [("", "anybody"), (PLANNER, "the planner itself"), *people])
        kinds = [(ENTRIES, "acts only"), (LOOKS, "looks only"), (REASONS, "only with a reason")]
        self._choose("what", [("", "acts and looks"), *kinds])
        self._choose("act", [("", "every act"), *sorted(((act, str(said)) for act, said in ACTS.items()), key=_said)])
        for name in ("first", "last"):
            self.fields[name].today = today  # type: ignore[attr-defined]
        self.is_valid()

    def _choose(self, field: str, offered: list[tuple[str, str]]) -> None:
        self.fields[field].choices = offered  # type: ignore[attr-defined]

    def value(self, field: str) -> Any:
        return self.cleaned_data.get(field) or ""

    @property
    def query(self) -> dict[str, str]:
        days = {name: self.value(name).isoformat() for name in ("first", "last") if self.value(name)}
        words = {name: self.value(name) for name in ("who", "what", "act") if self.value(name)}
        return words | days | ({"patient": self.patient.code} if self.patient else {})

    @property
    def controls(self) -> list[tuple[str, str, SafeString]]:
        """Each field as the id, the label and the markup of its choice; the days are typed."""
        return [(self[name].auto_id, str(self[name].label), self._control(name)) for name in self.fields]

    def _control(self, name: str) -> SafeString:
        field = self.fields[name]
        if isinstance(field, DayField):
            return self[name].as_widget()
        return select(name, self[name].auto_id, field.choices, self.value(name))  # type: ignore[attr-defined]

    @property
    def remarks(self) -> list[str]:
        return [f"“{self.fields[name].label or name}” could not be read, and was left out." for name in self.errors]

    @property
    def is_set(self) -> bool:
        return bool(self.query)


def _said(choice: tuple[str, str]) -> str:
    return choice[1]
