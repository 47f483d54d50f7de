"""The booking list: its filters, and the visit that is booked or moved beside it."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from caseload.actions import appointments
from caseload.actions.act import By
from caseload.booking.offers import Offer
from caseload.models import Appointment, FollowUp, Told
from caseload.reads.names import Names
from caseload.reads.to_book import Asked
from caseload.reads.visit_to_book import VisitToBook
from caseload.timetable.terms import FollowUpKind, Way
from caseload.web.forms.filters import Filters, choices
from caseload.web.forms.places import SlotField, name_of, place_of, say_what, way_of
from caseload.web.forms.record import RecordForm, words


class ToBookFilters(Filters):
    kind = forms.ChoiceField(required=False, label="For")
    field_order = ("site", "kind", "therapist")

    def _offer(self) -> None:
        self._choose("kind", choices(FollowUpKind, "every visit"))

    def asked(self) -> Asked:
        return Asked(kind=self.value("kind"), **self.people())


class VisitToBookForm(RecordForm):
    """`row` is what was chosen in the list, `then` the row to go on to, `moving` the appointment that is moved."""

    row = forms.CharField(max_length=60, widget=forms.HiddenInput)
    then = forms.CharField(max_length=60, required=False, widget=forms.HiddenInput)
    moving = forms.CharField(max_length=12, required=False, widget=forms.HiddenInput)
    follow_ups = forms.MultipleChoiceField(
        label="For", widget=forms.CheckboxSelectMultiple, error_messages={"required": "Tick what the visit is for."}
    )
    way = forms.ChoiceField(label="How", choices=lambda: words(Way), widget=forms.RadioSelect)
    slot = SlotField(label="When", error_messages={"required": "Choose one of the times."})
    told = forms.ChoiceField(label="Does the patient know?", choices=Told.choices, widget=forms.RadioSelect)
    interpreter_told = forms.BooleanField(label="The interpreter knows too", required=False)

    def __init__(self, data: Any = None, *, visit: VisitToBook, same_name: bool, **options: Any) -> None:
        super().__init__(data, **options)
        self.visit = visit
        self.known = {name_of(row): row for row in visit.able}
        if visit.appointment:
            del self.fields["follow_ups"]
        else:
            self.fields["follow_ups"].choices = [(name, say_what(row)) for name, row in self.known.items()]  # type: ignore[attr-defined]
        if visit.about.in_person:
            self.fields["way"].widget = forms.HiddenInput()
        if not visit.about.patient.interpreter:
            del self.fields["interpreter_told"]
        if same_name:
            self.ask_birth_date(visit.about.patient.born_on)
            self.fields["birth_date_confirmed"].widget.attrs["autofocus"] = True

    @property
    def chosen(self) -> list[FollowUp]:
        """What the visit is for, as ticked just now, whether or not the rest of the form is right."""
        if self.visit.appointment:
            return list(self.visit.able)
        return [self.known[name] for name in self["follow_ups"].value() or () if name in self.known]

    @property
    def chosen_way(self) -> Way:
        return way_of(self["way"].value())

    def offer(self, offers: Sequence[Offer], names: Names) -> None:
        """Show these times, and choose the best where none of them is chosen."""
        shown = [place_of(each, self.visit.about, names) for each in offers]
        self.fields["slot"].widget.choices = shown
        said = self.data if self.is_bound else self.initial
        if shown and said.get("slot") not in [name for name, _ in shown]:
            self._choose("slot", shown[0][0])

    def save(self, by: By) -> Appointment:
        """Book, or move what is moved. Raises Refusal and Repeated."""
        said = self.cleaned_data
        session, start = said["slot"]
        where: dict[str, Any] = {"session": session, "start": start, "way": Way(said["way"]), "told": said["told"]}
        where["interpreter_told"] = said.get("interpreter_told", False)
        if self.visit.appointment:
            return appointments.move(self.visit.appointment, by=by, version=said["version"], **where)
        return appointments.book(self.chosen, by=by, **where)

    def _choose(self, field: str, value: str) -> None:
        if isinstance(self.data, QueryDict) and self.is_bound:
            data = self.data.copy()
            data[field] = value
            self.data = data
        else:
            self.initial[field] = value
