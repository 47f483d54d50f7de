"""What was found, said again: a correction of one finding, a withdrawal."""

from typing import Any

from django import forms

from caseload.models import Finding
from caseload.timetable.terms import FindingKind, Source, WoundState
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.record import Groups, RecordForm, words

MOST_STITCHES = 60


def _count(text: str) -> forms.IntegerField:
    return forms.IntegerField(label=text, required=False, min_value=0, max_value=MOST_STITCHES)


class FoundForm(RecordForm):
    """What every finding says: the day, and where it comes from."""

    on = DayField(label="Day it was found", help_text="As you write it: 3/4, 3 apr, today, yesterday, -2.")
    source = forms.ChoiceField(
        label="Where it comes from", choices=lambda: words(Source), widget=forms.RadioSelect, initial=Source.SEEN
    )
    reported_by = LineField(
        label="Reported by", most=120, required=False, help_text="Needed for a report: the clinician's name."
    )


class StitchesFields(forms.Form):
    stitches_out = _count("Taken out")
    stitches_left = _count("Left in")
    confirmed_full = forms.BooleanField(label="I looked again: none are left", required=False)


class CorrectFindingForm(FoundForm, StitchesFields):
    """One finding said again: only what its kind says."""

    wound = forms.ChoiceField(label="State of the wound", choices=lambda: words(WoundState), widget=forms.RadioSelect)
    note = LineField(label="Note", most=500, required=False)
    groups: Groups = (
        (
            "What was found",
            ("on", "source", "reported_by", "stitches_out", "stitches_left", "confirmed_full", "wound", "note"),
        ),
    )
    OWN = {
        FindingKind.STITCHES: ("stitches_out", "stitches_left", "confirmed_full"),
        FindingKind.WOUND: ("wound",),
    }

    def __init__(self, data: Any = None, *, finding: Finding, **options: Any) -> None:
        own = ("on", "source", "reported_by", "note", *self.OWN.get(FindingKind(finding.kind), ()))
        initial = {name: getattr(finding, name) for name in own}
        super().__init__(data, since=finding.episode.surgery_on, initial=initial, **options)
        for name in set(self.fields) - set(own) - {"key", "version"}:
            del self.fields[name]


class WithdrawForm(RecordForm):
    why = LineField(
        label="Why it is withdrawn", most=500, help_text="It stays readable, struck through, with this reason."
    )
    groups: Groups = (("Withdraw this finding", ("why",)),)
