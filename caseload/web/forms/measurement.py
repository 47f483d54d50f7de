"""One measurement said again, or withdrawn."""

from typing import Any, cast

from django import forms
from django.http import QueryDict

from caseload.errors import Refusal
from caseload.measures.bodies import Body, read
from caseload.measures.limits import Doubt, doubts
from caseload.measures.terms import MeasureKind
from caseload.models import Measurement
from caseload.timetable.terms import Digit
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.measures import body_of, fields_of, values_of
from caseload.web.forms.record import Groups, RecordForm
from caseload.wording import label
from caseload.wording.measures import say_doubt, say_unusual

PARTS = {"flexion": "Bending", "deficit": "Straightening"}
STANDS = "The earlier value stays readable, struck through, with this reason."


class CorrectMeasurementForm(RecordForm):
    """Only the fields of its kind, with the values that stand; what is unusual is confirmed value by value."""

    why = LineField(label="Why it is corrected", most=300, help_text=STANDS)

    def __init__(self, data: QueryDict | None = None, *, measurement: Measurement, **options: Any) -> None:
        self.kind = MeasureKind(measurement.kind)
        digit = measurement.episode.digit
        self.digit = Digit(digit) if digit else None
        self.stored = read(self.kind, measurement.body)
        self.body: Body | None = None
        super().__init__(data, initial=values_of(self.stored), **options)
        own = fields_of(self.kind, self.digit)
        for field in own.values():
            if isinstance(field, DayField):
                field.today = options["today"]
        self.fields |= own
        self.groups = _groups(label(self.kind), own)

    def measured(self) -> Body:
        """What was typed. Only of a valid form."""
        assert self.body is not None
        return self.body

    def clean(self) -> dict[str, Any]:
        if not self.errors:
            self._read()
        return self.cleaned_data

    def _read(self) -> None:
        try:
            self.body = body_of(self.kind, self.digit, self.cleaned_data)
        except Refusal as refusal:
            return self.refuse(refusal)
        if self.body is None:
            raise forms.ValidationError("Type what was measured. If nothing was, withdraw it.", "nothing-measured")
        if self.body == self.stored:
            raise forms.ValidationError("Nothing was changed.", "nothing-changed")
        self._ask_back(doubts(self.body, self.digit or Digit.MIDDLE))

    def _ask_back(self, unusual: tuple[Doubt, ...]) -> None:
        """Each unusual value is confirmed as it was typed: another value is asked about anew."""
        if not unusual:
            return
        marks = {f"{doubt.field}:{doubt.value:g}": doubt for doubt in unusual}
        self.fields["sure"] = forms.MultipleChoiceField(
            label="Unusual, but right", required=False, widget=forms.CheckboxSelectMultiple,
            choices=[(mark, say_unusual(doubt)) for mark, doubt in marks.items()],
        )  # fmt: skip
        self.groups = (*self.groups[:-1], ("Unusual values", ("sure",)), self.groups[-1])
        sure = cast(QueryDict, self.data).getlist("sure")
        for mark, doubt in marks.items():
            if mark not in sure:
                self.add_error(doubt.field, forms.ValidationError(say_doubt(doubt), "unusual"))


def _groups(legend: str, own: dict[str, forms.Field]) -> Groups:
    """The operated side first, then the other hand where it is measured too; bending before straightening."""
    found: dict[str, list[str]] = {}
    for name in own:
        said = PARTS.get(name.rpartition("_")[2], legend)
        whose = f"{said}, other hand" if name.startswith(("other_", "grip_other_")) else said
        found.setdefault(whose, []).append(name)
    return *((said, tuple(names)) for said, names in found.items()), ("Why", ("why",))


class WithdrawMeasurementForm(RecordForm):
    why = LineField(label="Why it is withdrawn", most=300, help_text=STANDS)
    groups: Groups = (("Withdraw this measurement", ("why",)),)
