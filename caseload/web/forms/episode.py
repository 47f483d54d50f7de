"""The facts of an episode, and its closing."""

from typing import Any

from django import forms

from caseload.actions.episodes import FACTS
from caseload.models import Episode, Patient, Referral, Site, Staff, Work
from caseload.parsing import Risk
from caseload.timetable.terms import Digit, Ending, Side, Suture, Technique
from caseload.web.forms.fields import DayField, LineField, NotesField
from caseload.web.forms.record import Groups, RecordForm, words
from caseload.wording import say_date

UNKNOWN = "not known yet"


class ReferralChoice(forms.ModelChoiceField):
    broad = True
    """Has a row of its own: a date with a source is cut in a third of one."""

    def label_from_instance(self, referral: Referral) -> str:
        return f"{say_date(referral.received_on)}, {referral.source}"


class EpisodeForm(RecordForm):
    """What is not known yet may stay empty; it is then asked for until it is."""

    surgery_on = DayField(
        label="Surgery date", required=False, help_text="As you write it: 3/4/26, 3 apr. Empty if not known yet."
    )
    side = forms.ChoiceField(
        label="Hand", required=False, choices=lambda: words(Side, UNKNOWN), widget=forms.RadioSelect
    )
    digit = forms.ChoiceField(
        label="Finger", required=False, choices=lambda: words(Digit, UNKNOWN), widget=forms.RadioSelect
    )
    technique = forms.ChoiceField(
        label="Technique", choices=lambda: words(Technique), widget=forms.RadioSelect, initial=Technique.OPEN
    )
    suture = forms.ChoiceField(
        label="Suture", choices=lambda: words(Suture), widget=forms.RadioSelect, initial=Suture.UNKNOWN
    )
    stitches_in = forms.IntegerField(label="Stitches put in", required=False, min_value=0, max_value=60)
    material = LineField(label="Material", most=60, required=False)
    surgeon = LineField(label="Surgeon", most=120, required=False)
    site = forms.ModelChoiceField(Site.objects, label="Site", to_field_name="code", empty_label="choose one")
    therapist = forms.ModelChoiceField(
        Staff.objects.filter(is_therapist=True, is_active=True), label="Therapist", required=False,
        to_field_name="code", empty_label="nobody yet",
    )  # fmt: skip
    referral = ReferralChoice(
        Referral.objects.none(), label="Referral", required=False, to_field_name="code", empty_label="none"
    )
    for_therapy = forms.BooleanField(label="Referred for therapy", required=False)
    arrived_on = DayField(
        label="Transferred in on", required=False,
        help_text="If another clinic looked after this finger since the surgery: the day on which it came to us.",
    )  # fmt: skip
    risks = forms.MultipleChoiceField(
        label="What may slow healing", choices=lambda: words(Risk), required=False, widget=forms.CheckboxSelectMultiple
    )
    raised_risk = forms.BooleanField(
        label="Raised risk", required=False,
        help_text="Your judgement: it lets the stitches stay in longer, as the rules in force say.",
    )  # fmt: skip
    dominant = forms.ChoiceField(
        label="Dominant hand", required=False, choices=lambda: words(Side, UNKNOWN), widget=forms.RadioSelect
    )
    work = forms.ChoiceField(label="Work", required=False, choices=[("", UNKNOWN), *Work.choices])
    notes = NotesField(label="Notes", most=2000, required=False)
    groups: Groups = (
        ("The operation", ("surgery_on", "side", "digit", "technique", "surgeon")),
        ("How the skin was closed", ("suture", "stitches_in", "material")),
        ("Whose it is", ("site", "therapist", "referral", "for_therapy", "arrived_on")),
        ("The person and the hand", ("risks", "raised_risk", "dominant", "work", "notes")),
    )

    def __init__(self, data: Any = None, *, patient: Patient, **options: Any) -> None:
        super().__init__(data, **options)
        self.fields["referral"].queryset = patient.referrals.all()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("suture") == Suture.NONE and said.get("stitches_in"):
            wrong = "No stitches, and a number put in: one of them is wrong."
            self.add_error("stitches_in", forms.ValidationError(wrong, "stitches-none"))
        return said


def facts_now(episode: Episode) -> dict[str, Any]:
    """The facts as the form's first values."""
    rows = ("site", "therapist", "referral")
    now = {name: getattr(episode, name) for name in FACTS if name not in rows}
    return now | {name: row.code if (row := getattr(episode, name)) else "" for name in rows}


class ReopenForm(RecordForm):
    why = LineField(label="Why it is open again", most=500, help_text="It stands in the history of the patient.")
    groups: Groups = (("Open the episode again", ("why",)),)


class CloseForm(RecordForm):
    how = forms.ChoiceField(
        label="How it ends", choices=lambda: words(Ending), widget=forms.RadioSelect,
        error_messages={"required": "Say how it ends."},
        help_text="Operated on again leads to the form of the next episode, which closes this one with it. A death "
        "closes everything that is open of the patient, and nobody is left to be told.",
    )  # fmt: skip
    on = DayField(label="On")
    received_by = LineField(
        label="Taken over by", most=120, required=False, help_text="Needed for a transfer or a referral back."
    )
    groups: Groups = (("Close this episode", ("how", "on", "received_by")),)
