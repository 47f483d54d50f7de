"""What is to happen: instructions, set reviews, follow-ups carried out, calls."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django import forms

from caseload.actions.instructions import ORDERED_FOLLOW_UPS
from caseload.models import How, Reached
from caseload.timetable.terms import ActivityKind, FollowUpKind
from caseload.web.forms.fields import DayField, DayNumberField, LineField
from caseload.web.forms.record import Groups, RecordForm
from caseload.wording import label

FURTHEST_DAY = 365
NOTHING: Mapping[str, str] = {}


def _day(text: str, help_text: str = "") -> DayNumberField:
    return DayNumberField(label=text, required=False, min_value=0, max_value=FURTHEST_DAY, help_text=help_text)


def items(now: Mapping[str, str] = NOTHING) -> list[tuple[str, list[tuple[str, str]]]]:
    """What can be ordered, in two groups, each with its days as they stand."""

    def named(kinds: Iterable[FollowUpKind | ActivityKind]) -> list[tuple[str, str]]:
        return [(str(kind), label(kind) + (f" – {now[kind]}" if kind in now else "")) for kind in kinds]

    return [
        ("A follow-up: give its window", named(ORDERED_FOLLOW_UPS)),
        ("An activity: give the day it opens, or lock it", named(ActivityKind)),
    ]


class InstructionForm(RecordForm):
    """Days count from surgery. A follow-up takes a window; an activity takes a day or a lock."""

    item = forms.ChoiceField(label="What it is about", choices=items)
    earliest = _day("Earliest day", "Days after surgery.")
    target = _day("Target day")
    latest = _day("Latest day")
    from_day = _day("Opens on day", "Days after surgery. What has to be found first still has to be found.")
    locked = forms.BooleanField(label="Keep it locked", required=False)
    by_whom = LineField(label="Who ordered it", most=120)
    why = LineField(label="Why", most=200)
    groups: Groups = (
        ("The instruction", ("item",)),
        ("For a follow-up", ("earliest", "target", "latest")),
        ("For an activity", ("from_day", "locked")),
        ("Whose and why", ("by_whom", "why")),
    )

    def __init__(
        self, data: Any = None, *, since: date | None, now: Mapping[str, str] = NOTHING, **options: Any
    ) -> None:
        super().__init__(data, since=since, **options)
        self.fields["item"].choices = items(now)  # type: ignore[attr-defined]
        for field in self.fields.values():
            if isinstance(field, DayNumberField):
                field.count_from(since)


class UninstructForm(RecordForm):
    why = LineField(
        label="Why it holds no more",
        most=200,
        help_text="Who ordered otherwise, or what was mistaken. It stays readable.",
    )
    groups: Groups = (("Withdraw this instruction", ("why",)),)


class ReviewForm(RecordForm):
    in_days = forms.IntegerField(
        label="Review in", min_value=1, max_value=365, help_text="Days from the visit. The window follows from it."
    )
    on = DayField(label="Counted from the visit on")
    minutes = forms.TypedChoiceField(
        label="Minutes", coerce=int, choices=[(n, str(n)) for n in (20, 40, 60)], widget=forms.RadioSelect, initial=20
    )
    groups: Groups = (("Set a review", ("in_days", "on", "minutes")),)


class DoneForm(RecordForm):
    on = DayField(label="Done on", help_text="As you write it: today, yesterday, 3/4.")
    note = LineField(label="Note", most=300, required=False)
    groups: Groups = (("Done", ("on", "note")),)


class ContactForm(RecordForm):
    how = forms.ChoiceField(label="How", choices=How.choices, widget=forms.RadioSelect, initial=How.PHONE)
    reached = forms.ChoiceField(label="What came of it", choices=Reached.choices, widget=forms.RadioSelect)
    text = LineField(label="What was said", most=500, required=False)
    groups: Groups = (("Log a call or a message", ("how", "reached", "text")),)
