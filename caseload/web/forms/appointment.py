"""Booked days: noted, ended, told."""

from collections.abc import Sequence
from typing import Any

from django import forms

from caseload.models import FollowUp, Patient, Site, Told
from caseload.timetable.terms import FollowUpKind, Outcome
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.record import Groups, RecordForm, words
from caseload.wording import label, say_date
from caseload.wording.record import say_hand


def name_of(row: FollowUp) -> str:
    """What names a follow-up in a form: its episode and its key."""
    return f"{row.episode.code}/{row.key}"


def _what(row: FollowUp) -> str:
    """What a follow-up is and in which days it belongs."""
    window = f"{say_date(row.earliest_on)} – {say_date(row.latest_on)}"
    return f"{label(FollowUpKind(row.kind))}, {say_hand(row.episode)}: {window}"


class BookForm(RecordForm):
    follow_ups = forms.MultipleChoiceField(label="What it is for", widget=forms.CheckboxSelectMultiple)
    on = DayField(label="Day", help_text="As you write it: 3/4, 3 apr, tomorrow, +10.")
    site = forms.ModelChoiceField(Site.objects, label="Site", to_field_name="code", empty_label=None)
    told = forms.ChoiceField(
        label="Does the patient know?", choices=Told.choices, widget=forms.RadioSelect, initial=Told.TOLD
    )
    approved_by = LineField(
        label="Approved by", most=120, required=False,
        help_text="Only for a day before the window: the clinician who approved it.",
    )  # fmt: skip
    groups: Groups = (("Note a booked day", ("follow_ups", "on", "site", "told", "approved_by")),)

    def __init__(
        self, data: Any = None, *, bookable: Sequence[FollowUp], namesakes: Sequence[Patient], **options: Any
    ) -> None:
        super().__init__(data, **options)
        if namesakes and bookable:
            self.ask_birth_date(bookable[0].patient.born_on)
        self.bookable = {name_of(row): row for row in bookable}
        field: Any = self.fields["follow_ups"]
        field.choices = [(name, _what(row)) for name, row in self.bookable.items()]

    def booking(self) -> dict[str, Any]:
        return {name: value for name, value in self.said().items() if name != "follow_ups"}

    def chosen(self) -> list[FollowUp]:
        return [self.bookable[name] for name in self.cleaned_data["follow_ups"]]


class OutcomeForm(RecordForm):
    outcome = forms.ChoiceField(label="How it ended", choices=lambda: words(Outcome), widget=forms.RadioSelect)
    why = LineField(label="Why", most=200, required=False)
    groups: Groups = (("Outcome of the appointment", ("outcome", "why")),)


class TellForm(RecordForm):
    told = forms.ChoiceField(label="Does the patient know?", choices=Told.choices, widget=forms.RadioSelect)
    groups: Groups = (("Told", ("told",)),)
