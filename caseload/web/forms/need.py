"""One more session, to be tried out: where, on which day, how long. Nothing is written."""

from datetime import date
from typing import Any, Final

from django import forms

from caseload.booking.slots import SLOT
from caseload.models import Site
from caseload.timetable.terms import FollowUpKind
from caseload.web.forms.fields import NEEDED, DayField
from caseload.web.forms.filters import choices

LENGTHS: Final = (3, 6, 9, 12, 15)
"""Slots: from an hour to five."""


def said(slots: int) -> str:
    hours, minutes = divmod(slots * SLOT, 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def _kinds() -> list[tuple[str, str]]:
    return [each for each in choices(FollowUpKind, "every visit") if each[0] != FollowUpKind.CLOSE]


class OneMoreForm(forms.Form):
    """Asked of the address, so that the answer can be kept and sent to a colleague."""

    site = forms.ModelChoiceField(Site.objects.order_by("name"), to_field_name="code", empty_label=None)
    on = DayField(label="Day", error_messages={"required": NEEDED})
    slots = forms.TypedChoiceField(label="How long", coerce=int, choices=[(each, said(each)) for each in LENGTHS])

    kind = forms.ChoiceField(label="For", required=False, choices=_kinds)
    use_required_attribute = False  # what is missing is told in our own words, as everywhere

    def __init__(self, asked: Any, *, today: date, first: date, last: date) -> None:
        self.first, self.last = first, last
        given = asked if "on" in asked else None
        super().__init__(given, initial={"slots": LENGTHS[2]}, auto_id="more-%s", label_suffix="")
        self.fields["on"].today = today  # type: ignore[attr-defined]

    def asked(self) -> str:
        """What was tried out, beside its day: on paper the fields are not there. Of a form that is valid."""
        of = self.cleaned_data
        return f"{of['site'].name}, {said(of['slots'])}, {dict(_kinds())[of['kind']]}"

    def takes(self) -> frozenset[FollowUpKind]:
        """Empty is every kind of visit, as of any session. Of a form that is valid."""
        kind = self.cleaned_data["kind"]
        return frozenset({FollowUpKind(kind)}) if kind else frozenset()

    def clean_on(self) -> date:
        """Raises ValidationError for a day that the page does not look at."""
        on: date = self.cleaned_data["on"]
        if not self.first <= on <= self.last:
            raise forms.ValidationError("Give one of the days shown here.", code="not-shown")
        return on
