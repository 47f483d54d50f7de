"""How an appointment ended, and whether the patient knows."""

from typing import Any

from django import forms

from caseload.models import Told
from caseload.timetable.terms import Outcome
from caseload.web.forms.fields import LineField
from caseload.web.forms.record import Groups, RecordForm, words


class OutcomeForm(RecordForm):
    outcome = forms.ChoiceField(label="How it ended", choices=lambda: words(Outcome), widget=forms.RadioSelect)
    why = LineField(label="Why", most=200, required=False)
    told = forms.ChoiceField(
        label="If it was cancelled: does the patient know?", choices=[("", "as usual"), *Told.choices], required=False,
        widget=forms.RadioSelect,
        help_text="As usual: whoever cancels knows; whom the clinic cancels is still to be told.",
    )  # fmt: skip
    groups: Groups = (("Outcome of the appointment", ("outcome", "why", "told")),)


class TellForm(RecordForm):
    told = forms.ChoiceField(label="Does the patient know?", choices=Told.choices, widget=forms.RadioSelect)
    interpreter_told = forms.BooleanField(label="The interpreter knows", required=False)
    groups: Groups = (("Told", ("told", "interpreter_told")),)

    def __init__(self, data: Any = None, *, interpreter: bool, **options: Any) -> None:
        super().__init__(data, **options)
        if not interpreter:
            del self.fields["interpreter_told"]
