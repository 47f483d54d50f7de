"""What came of ringing about a reminder, why a notice is not to go out, and the letter as somebody read it."""

from hashlib import sha256
from typing import Any, cast

from django import forms
from django.http import QueryDict

from caseload.models import Reached
from caseload.web.forms.fields import LineField
from caseload.web.forms.record import Groups, RecordForm


class RungForm(RecordForm):
    reached = forms.ChoiceField(label="What came of it", choices=Reached.choices, widget=forms.RadioSelect)
    text = LineField(label="What was said", most=500, required=False)
    groups: Groups = (("The call", ("reached", "text")),)


class NotToSendForm(RecordForm):
    why = LineField(label="Why it is not to go out", most=200, help_text="It stays readable, and is not made again.")
    groups: Groups = (("Withdraw this notice", ("why",)),)


class ReadLetterForm(RecordForm):
    """`seen` is a digest of the letter that was shown: another one is never written unread."""

    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, data: Any = None, *, letter: str, **options: Any) -> None:
        self.digest = sha256(letter.encode()).hexdigest()
        super().__init__(data, initial={"seen": self.digest}, **options)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        if typed.get("seen") != self.digest:
            data = cast(QueryDict, self.data).copy()
            data["seen"] = self.digest
            self.data = data
            said = "The letter changed since it was shown. Read it again."
            self.add_error(None, forms.ValidationError(said, "unread"))
        return typed
