"""What a lead says where the whole of a record is taken away, kept beyond its time, or removed."""

from collections.abc import Sequence
from datetime import date
from hashlib import sha256
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.record import Groups, RecordForm


class PatientFileForm(RecordForm):
    why = LineField(label="What it is for", most=200, help_text="Such as a request of the patient, and of which day.")
    sure = forms.BooleanField(
        label="I made sure who asks for it, and that they may have it",
        error_messages={"required": "Make sure first: the file holds everything, and it leaves the planner."},
    )
    groups: Groups = (("Take everything away as a file", ("why", "sure")),)


class KeepForm(RecordForm):
    keep_why = LineField(
        label="Why it is kept",
        most=200,
        required=False,
        help_text="Such as a legal claim. Empty: it is kept no longer than others.",
    )
    keep_until_on = DayField(label="Kept until", required=False, help_text="Empty: until a lead takes this back.")
    groups: Groups = (("Keep the record beyond its time", ("keep_why", "keep_until_on")),)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        until: date | None = said.get("keep_until_on")
        if until and not said.get("keep_why"):
            self.add_error("keep_why", ValidationError("Say why it is kept until then.", "why-missing"))
        return said


class RemoveForm(RecordForm):
    """`wanted` are the words that a lead types, `codes` those listed: what was listed is what is removed."""

    codes = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
    words = LineField(most=60, help_text="The records do not come back.")
    groups: Groups = (("Remove these records", ("words",)),)

    def __init__(self, *args: Any, listed: Sequence[str], **options: Any) -> None:
        self.listed = sha256(" ".join(listed).encode()).hexdigest()
        self.wanted = f"remove {len(listed)} record{'s' if len(listed) > 1 else ''}"
        super().__init__(*args, **options)
        self.initial.setdefault("codes", self.listed)
        if not listed:
            self.groups = ()
        self.fields["words"].label = f"Type the words “{self.wanted}”"

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("codes") != self.listed:
            raise ValidationError("The list has changed since this page was opened. Read it once more.", "listed-anew")
        if said.get("words", self.wanted).lower() != self.wanted:
            self.add_error("words", ValidationError(f"Type the words: {self.wanted}.", "words-differ"))
        return said
