"""What the trail can be filtered by. Every field is a choice from a list or a typed day."""

from collections.abc import Mapping
from datetime import date

from django import forms

from caseload.models import Patient, Staff
from caseload.reads.trail import ENTRIES, LOOKS, PLANNER, REASONS
from caseload.web.forms.fields import DayField
from caseload.web.forms.filters import Choices
from caseload.wording.record import ACTS


class TrailFilters(Choices):
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

    @property
    def query(self) -> dict[str, str]:
        days = {name: self.value(name).isoformat() for name in ("first", "last") if self.value(name)}
        words = {name: self.value(name) for name in ("who", "what", "act") if self.value(name)}
        return words | days | ({"patient": self.patient.code} if self.patient else {})

    @property
    def remarks(self) -> list[str]:
        return [f"“{self[name].label}” could not be read, and was left out." for name in self.errors]

    @property
    def is_set(self) -> bool:
        return bool(self.query)


def _said(choice: tuple[str, str]) -> str:
    return choice[1]
