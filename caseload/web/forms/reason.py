"""Why somebody needs the record of a patient who is not theirs."""

from django import forms

from caseload.actions.reach import LONGEST
from caseload.web.forms.fields import LineField
from caseload.web.forms.record import Groups, RecordForm


class ReasonForm(RecordForm):
    """`back` is the page that was asked for."""

    why = LineField(
        label="Why you need it",
        most=LONGEST,
        help_text="Such as: on call tonight; seen for a colleague. The reason is kept with everything you look at.",
    )
    back = forms.CharField(required=False, widget=forms.HiddenInput)
    groups: Groups = (("Reason", ("why",)),)
