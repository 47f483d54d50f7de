"""An appointment booked or moved by hand: what it is for, and one of the places that are free."""

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import cached_property
from typing import Any

from django import forms

from caseload.booking.offers import Offer
from caseload.errors import Refusal
from caseload.models import FollowUp, Patient, Told
from caseload.reads.names import Names
from caseload.reads.openings import offers_for, places_on
from caseload.timetable.terms import Way
from caseload.web.forms.fields import DayField, LineField
from caseload.web.forms.places import SlotField, name_of, place_of, say_what, way_of
from caseload.web.forms.record import Groups, RecordForm, words

MOST = 8


class PlaceForm(RecordForm):
    """A time for one visit. `rows` are the follow-ups that it is for, as they are chosen when the times are shown."""

    way = forms.ChoiceField(label="How", choices=lambda: words(Way), widget=forms.RadioSelect, initial=Way.IN_PERSON)
    look_on = DayField(label="Another day", required=False, help_text="Shows every free time of that day: 3/4, +10.")
    early = forms.BooleanField(label="Offer days before the window too", required=False)
    slot = SlotField(label="When", error_messages={"required": "Choose one of the times."})
    told = forms.ChoiceField(
        label="Does the patient know?", choices=Told.choices, widget=forms.RadioSelect, initial=Told.TOLD
    )
    interpreter_told = forms.BooleanField(label="The interpreter knows too", required=False)
    approved_by = LineField(
        label="Earlier day approved by", most=120, required=False, help_text="The clinician, by name. "
        "Before its window a wound is held by stitches alone.",
    )  # fmt: skip
    approved_why = LineField(label="Why earlier", most=200, required=False)
    groups: Groups = (
        ("How and when", ("way", "slot", "look_on", "early")),
        ("Told", ("told", "interpreter_told")),
        ("Only for a day before the window", ("approved_by", "approved_why")),
    )

    def __init__(
        self, data: Any = None, *, patient: Patient, namesakes: Sequence[Patient], at: datetime, known: Names,
        **options: Any,
    ) -> None:  # fmt: skip
        super().__init__(data, **options)
        self.at, self.known = at, known
        if not patient.interpreter:
            del self.fields["interpreter_told"]
        if namesakes:
            self.ask_birth_date(patient.born_on)

    def rows(self) -> list[FollowUp]:
        raise NotImplementedError

    def show_times(self) -> None:
        """Have the free times read when the form is drawn, so that one that was lost is not shown again."""
        shown: Callable[[], list[tuple[str, str]]] = self._times
        self.fields["slot"].widget.choices = shown
        if not self.is_bound:
            first = next(iter(self._times()), None)
            self.initial.setdefault("slot", first and first[0])
        if any(row.in_person for row in self.rows()):
            self.fields["way"].help_text = "A wound is looked at, and a stitch taken out, in person only."

    @cached_property
    def places(self) -> tuple[Sequence[Offer], str]:
        """The free places as the form is drawn, or why there are none."""
        try:
            found = self._places()
        except Refusal as refusal:
            return (), refusal.message
        return found, "" if found else "No time is free then. Look at another day, or ask for one more session."

    def why_none(self) -> str:
        return self.places[1]

    def place(self) -> dict[str, Any]:
        """What an act needs to know of the place."""
        said = self.said()
        session, start = said.pop("slot")
        kept = ("told", "interpreter_told", "approved_by", "approved_why")
        return {"session": session, "start": start, "way": Way(said["way"])} | {
            name: said[name] for name in kept if name in said
        }

    def _times(self) -> list[tuple[str, str]]:
        about = self.rows()[:1]
        return [place_of(each, row, self.known) for row in about for each in self.places[0]]

    def _places(self) -> Sequence[Offer]:
        rows, way = self.rows(), way_of(self["way"].value())
        if not rows:
            raise Refusal("nothing-chosen", "Tick what the visit is for.")
        on = self._typed_day()
        if on is not None:
            return places_on(rows, on, at=self.at, way=way)
        return offers_for(rows, at=self.at, way=way, most=MOST, approved=bool(self["early"].value()))

    def _typed_day(self) -> Any:
        try:
            return self.fields["look_on"].clean(self["look_on"].value())
        except forms.ValidationError:
            return None


class BookForm(PlaceForm):
    follow_ups = forms.MultipleChoiceField(
        label="What it is for", widget=forms.CheckboxSelectMultiple, error_messages={"required": "Tick at least one."}
    )
    groups: Groups = (("For", ("follow_ups",)), *PlaceForm.groups)

    def __init__(self, data: Any = None, *, bookable: Sequence[FollowUp], **options: Any) -> None:
        super().__init__(data, **options)
        self.bookable = {name_of(row): row for row in bookable}
        self.fields["follow_ups"].choices = [  # type: ignore[attr-defined]
            (name, say_what(row)) for name, row in self.bookable.items()
        ]
        self.show_times()

    def rows(self) -> list[FollowUp]:
        return [self.bookable[name] for name in self["follow_ups"].value() or () if name in self.bookable]


class MoveForm(PlaceForm):
    def __init__(self, data: Any = None, *, serves: Sequence[FollowUp], **options: Any) -> None:
        super().__init__(data, **options)
        self.serves = list(serves)
        self.show_times()

    def rows(self) -> list[FollowUp]:
        return self.serves
