"""What is filled in of sessions: a week, a session of one day, an absence, a closure."""

from typing import Any

from django import forms

from caseload.booking.slots import clock
from caseload.models import Site, Staff
from caseload.parsing.times import read_time
from caseload.timetable.terms import FollowUpKind, Way
from caseload.web.forms.fields import DayField, LineField, ReadField
from caseload.web.forms.record import Groups, RecordForm, words
from caseload.wording import label
from caseload.wording.sessions import WEEKDAYS

HOURS: tuple[str, ...] = ("start", "end")
TAKEN: tuple[str, ...] = ("takes", "ways")


def visits() -> list[tuple[str, str]]:
    """The follow-ups that somebody comes for."""
    return [(str(kind), label(kind)) for kind in FollowUpKind if kind is not FollowUpKind.CLOSE]


class TimeField(ReadField):
    """A time of day; cleaned it is the minute of the day."""

    def __init__(self, **options: Any) -> None:
        super().__init__(read_time, max_length=8, widget=forms.TextInput({"size": 8, "autocomplete": "off"}), **options)

    def prepare_value(self, value: Any) -> Any:
        return clock(value) if isinstance(value, int) else value


class WeekdayField(forms.TypedChoiceField):
    def __init__(self, **options: Any) -> None:
        super().__init__(coerce=int, choices=lambda: [("", "choose one"), *enumerate(WEEKDAYS)], **options)


def _therapist(text: str = "Therapist", *, needed: bool = True, empty: str = "choose one") -> forms.ModelChoiceField:
    able = Staff.objects.filter(is_therapist=True, is_active=True)
    return forms.ModelChoiceField(able, label=text, required=needed, to_field_name="code", empty_label=empty)


def _site(*, needed: bool = True, empty: str = "choose one") -> forms.ModelChoiceField:
    return forms.ModelChoiceField(Site.objects, label="Site", required=needed, to_field_name="code", empty_label=empty)


class HoursForm(RecordForm):
    """From when to when, and what is taken."""

    therapist = _therapist()
    start = TimeField(label="From", help_text="Such as 9:00; on whole ten minutes.")
    end = TimeField(label="Until")
    takes = forms.MultipleChoiceField(
        label="Takes", choices=visits, required=False, widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: everything.",
    )  # fmt: skip
    ways = forms.MultipleChoiceField(
        label="How people are seen", choices=lambda: words(Way), required=False, initial=[str(way) for way in Way],
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip


class WeekForm(HoursForm):
    site = _site()
    weekday = WeekdayField(label="Weekday")
    from_on = DayField(label="From this day on", help_text="What was held before stays as it was.")
    ends_on = DayField(label="Last day", required=False, help_text="Empty: until somebody ends it.")
    field_order = ("therapist", "site", "weekday")
    groups: Groups = (
        ("Who, where and when", ("therapist", "site", "weekday", *HOURS)),
        ("What it takes", TAKEN),
        ("Since when", ("from_on", "ends_on")),
    )


class EndWeekForm(RecordForm):
    on = DayField(label="Last day", help_text="A later session that has patients stays until they are moved.")
    groups: Groups = (("End the weekly session", ("on",)),)


class SessionForm(HoursForm):
    site = _site()
    on = DayField(label="Day")
    field_order = ("therapist", "site", "on")
    groups: Groups = (("Who, where and when", ("therapist", "site", "on", *HOURS)), ("What it takes", TAKEN))


class ChangeSessionForm(HoursForm):
    groups: Groups = (("Who and when", ("therapist", *HOURS)), ("What it takes", TAKEN))


class AbsenceForm(RecordForm):
    therapist = _therapist("Who is away")
    cover = _therapist("Cover", needed=False, empty="nobody: call the sessions off")
    starts_on = DayField(label="First day")
    ends_on = DayField(label="Last day")
    reason = LineField(label="Why", most=120, help_text="A word or two: leave, illness. No details of health.")
    groups: Groups = (("An absence", ("therapist", "starts_on", "ends_on", "cover", "reason")),)


class EndAbsenceForm(RecordForm):
    on = DayField(label="Last day away", help_text="A day before the first one takes the absence out altogether.")
    groups: Groups = (("End the absence sooner", ("on",)),)


class ClosureForm(RecordForm):
    site = _site(needed=False, empty="every site")
    starts_on = DayField(label="First closed day")
    ends_on = DayField(label="Last closed day")
    reason = LineField(label="Why", most=120, help_text="Such as staff training or a flood.")
    groups: Groups = (("Closed days", ("site", "starts_on", "ends_on", "reason")),)
