"""Over which days the diary is to be filled, and which lines of a plan are shown."""

from datetime import date, timedelta
from typing import Any, Final

from django import forms

from caseload.reads.fill_plans import Fate
from caseload.web.forms.fields import DayField
from caseload.web.forms.filters import Filters
from caseload.web.forms.record import RecordForm
from caseload.wording.filling import FATES

AHEAD: Final = timedelta(days=28)
"""As far as the booking list looks."""


class FillForm(RecordForm):
    """The first and the last day on which something may be proposed; which days can be, the act says."""

    first = DayField(label="From", error_messages={"required": "Give the first day."})
    last = DayField(label="To", error_messages={"required": "Give the last day."})

    def __init__(self, data: Any = None, *, today: date, **options: Any) -> None:
        initial = {"first": today + timedelta(days=1), "last": today + AHEAD}
        super().__init__(data, today=today, initial=initial, **options)


class LineFilters(Filters):
    """Which lines of a plan."""

    fate = forms.ChoiceField(required=False, label="Which")
    field_order = ("fate", "site")

    def _offer(self) -> None:
        del self.fields["therapist"]
        self._choose("fate", [("", "all"), *((name, str(said)) for name, said in FATES.items())])
        if len(self.names.sites) < 2:
            del self.fields["site"]

    def asked(self) -> dict[str, Any]:
        """Site and fate as the read takes them."""
        fate = self.value("fate")
        return {"site": self.people()["site"], "fate": Fate(fate) if fate else None}
