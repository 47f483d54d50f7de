"""An appointment moved to another start of the diary, a slot booked or kept back, a session called off."""

from typing import Any

from django import forms

from caseload.models import Told
from caseload.web.forms.fields import LineField
from caseload.web.forms.record import Groups, RecordForm


class ToldForm(RecordForm):
    told = forms.ChoiceField(
        label="Does the patient know?", choices=Told.choices, widget=forms.RadioSelect, initial=Told.TOLD
    )
    groups: Groups = (("Told", ("told",)),)


class CallOffForm(RecordForm):
    why = LineField(
        label="Why is it called off?", most=200, help_text="Patients may ask: illness, for example.",
        error_messages={"required": "Say why, in a word or two."},
    )  # fmt: skip
    groups: Groups = (("Why", ("why",)),)


class SlotForm(ToldForm):
    """Booking needs `told` only; keeping back needs `why` and so many `minutes` from the slot on."""

    why = LineField(label="Hold it back for", most=120, required=False, help_text="Urgent patients, for example.")
    minutes = forms.TypedChoiceField(
        label="How long", choices=[(count, f"{count} minutes") for count in (20, 40, 60, 80, 120, 180)], coerce=int,
        required=False,
    )  # fmt: skip


class MoveForm(ToldForm):
    """`to` names the session and the minute of the start that was pressed."""

    to = forms.RegexField(r"^[A-Za-z0-9_-]{1,12}/\d{1,4}$", error_messages={"required": "Press the start to move to."})
    approved_by = LineField(
        label="Approved by", most=120, required=False, help_text="The clinician who approved a day before the window."
    )
    approved_why = LineField(label="Why earlier", most=200, required=False)
    groups: Groups = (("Moving", ("told", "approved_by", "approved_why")),)

    def __init__(self, data: Any = None, *, early: bool, **options: Any) -> None:
        super().__init__(data, **options)
        if not early:
            del self.fields["approved_by"], self.fields["approved_why"]

    def place(self) -> tuple[str, int]:
        code, minute = self.cleaned_data["to"].split("/")
        return code, int(minute)

    def moving(self) -> dict[str, Any]:
        return {name: value for name, value in self.said_of().items() if name != "to"}
