"""Which day of Today is looked at, and, for a lead, whose."""

from collections.abc import Mapping
from datetime import date, timedelta

from django import forms
from django.utils.safestring import SafeString

from caseload.models import Staff
from caseload.parsing import in_words
from caseload.reads.names import Names
from caseload.web.controls import select
from caseload.web.forms.fields import DayField

ONE_DAY = timedelta(days=1)


class DayForm(forms.Form):
    """`on` is a day as typed, `of` the code of a therapist. What cannot be read is left out and named in `remarks`."""

    on = DayField(required=False)
    of = forms.ChoiceField(required=False)

    def __init__(self, asked: Mapping[str, str], *, names: Names, today: date) -> None:
        super().__init__(asked, auto_id="day-%s", label_suffix="")
        self.names, self.today = names, today
        self.fields["on"].today = today  # type: ignore[attr-defined]
        self.fields["of"].choices = [("", "mine"), *((each.code, each.name) for each in names.therapists)]  # type: ignore[attr-defined]
        if self.is_valid():
            self.data = {**asked, "on": in_words(self.day)}

    @property
    def day(self) -> date:
        return self.cleaned_data.get("on") or self.today

    def therapist(self) -> Staff | None:
        """Whose day was asked for; None is one's own."""
        code = self.cleaned_data.get("of")
        return Staff.objects.get(code=code) if code else None

    @property
    def remarks(self) -> list[str]:
        return [str(said) for found in self.errors.values() for said in found]

    @property
    def whose(self) -> SafeString | None:
        """The choice of a therapist, for those who may look at another's day."""
        chosen = self.cleaned_data.get("of", "")
        return select("of", "day-of", self.fields["of"].choices, chosen) if self.names.therapists else None  # type: ignore[attr-defined]

    @property
    def before(self) -> date:
        return self.day - ONE_DAY

    @property
    def after(self) -> date:
        return self.day + ONE_DAY

    @property
    def with_whose(self) -> str:
        """What an address carries on of whose day it is."""
        code = self.cleaned_data.get("of", "")
        return f"&of={code}" if code else ""
