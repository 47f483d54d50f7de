"""What a visit asks of one digit: only what its suture leaves room for, in the order in which it is examined."""

from collections.abc import Sequence
from datetime import date
from typing import Final

from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.measures.terms import OF_HAND, OF_PERSON, MeasureKind
from caseload.models import Episode
from caseload.reads.examining import Subject
from caseload.timetable.plan import Activity
from caseload.timetable.terms import ActivityKind, AfterVisit, Digit, FindingKind, Suture, WoundState
from caseload.web import marks
from caseload.web.forms.fields import LineField
from caseload.web.forms.measures import Fields, fields_of
from caseload.web.forms.record import words
from caseload.wording import label
from caseload.wording.dates import say_numbered

MOST_STITCHES: Final = 60
LONGEST_MARK: Final = 80
FURTHEST_DAY: Final = 365
LENGTHS: Final = (20, 40, 60)
OF_DIGIT: Final = tuple(kind for kind in MeasureKind if kind not in OF_PERSON)
IN_TABLES: Final = (MeasureKind.MOTION, MeasureKind.GRIP)
TITLES: Final = {"trigger_scale": "Trigger scale", "trigger_grade": "Trigger grade"}
TRIMS: Final = [
    ("", "nothing to say"), (FindingKind.TRIM_NEEDED, "need trimming"), (FindingKind.TRIMMED, "were trimmed"),
]  # fmt: skip


def fields_of_digit(subject: Subject, kinds: Sequence[MeasureKind], today: date) -> Fields:
    """The fields of a digit, without its prefix; `kinds` are what is measured of it."""
    episode = subject.episode
    measured = [measure_fields(kind, episode) for kind in kinds]
    fields = {**_hidden(), **_stitches(episode), **_wound(episode), **_after(subject, today)}
    return {name: field for own in (fields, *measured) for name, field in own.items()}


def kinds_of_digits(episodes: Sequence[Episode]) -> list[list[MeasureKind]]:
    """What is measured of each digit: what belongs to the whole hand only once for each hand."""
    kinds, hands = [], set()
    for episode in episodes:
        again = bool(episode.side) and episode.side in hands
        hands.add(episode.side)
        kinds.append([kind for kind in OF_DIGIT if not (again and kind in OF_HAND)])
    return kinds


def measure_fields(kind: MeasureKind, episode: Episode) -> Fields:
    """Those of a table are named aloud in full, since what is seen are the names of its rows and columns."""
    fields = fields_of(kind, Digit(episode.digit) if episode.digit else None)
    if kind in IN_TABLES:
        for field in fields.values():
            field.widget.attrs |= {"aria-label": field.label, "size": 4}
    for name, text in TITLES.items():
        if name in fields:
            fields[name].label = text
    return fields


def _hidden() -> Fields:
    """Which digit this is, and how it stood when the page was opened."""
    return {
        "of": forms.CharField(required=False, max_length=LONGEST_MARK, widget=forms.HiddenInput),
        "seen": forms.CharField(required=False, max_length=LONGEST_MARK, widget=forms.HiddenInput),
    }


def _count(text: str, most: int = MOST_STITCHES, least: int = 0) -> forms.IntegerField:
    """A whole number. A browser would throw letters away unseen: here they are answered with a sentence."""
    widget = forms.TextInput({"inputmode": "numeric", "autocomplete": "off", "size": 4})
    return forms.IntegerField(label=text, required=False, min_value=least, max_value=most, widget=widget)


def _stitches(episode: Episode) -> Fields:
    if episode.suture == Suture.NONE:
        return {}
    known = [word for word in words(Suture) if word[0] != Suture.UNKNOWN]
    asked = {"suture": _choice("Which stitches", [("", "not known yet"), *known])}
    return (asked if episode.suture == Suture.UNKNOWN else {}) | {
        "stitches_in": _count("Put in"),
        "stitches_out": _count("Taken out"),
        "stitches_left": _count("Left in"),
        "confirmed_full": forms.BooleanField(
            label="I looked again: none are left", required=False,
            help_text="Only where the numbers do not add up, or the number put in is not known.",
        ),
    }  # fmt: skip


def _wound(episode: Episode) -> Fields:
    wound = {"wound": _choice("Wound", words(WoundState, "not looked at"))}
    trim = {"trim": _choice("Absorbable ends", TRIMS)} if episode.suture == Suture.ABSORBABLE else {}
    flag = LineField(
        label="Red flag", most=500, required=False,
        help_text="What cannot wait, if anything: spreading redness, a bent painful finger, fever, new numbness.",
    )  # fmt: skip
    return wound | trim | {"red_flag": flag}


def _after(subject: Subject, today: date) -> Fields:
    """What may begin, what is open already first; and what is to happen next: that is never chosen beforehand."""
    activities = sorted(subject.activities, key=lambda each: bool(each.locked_by(today)))
    started = forms.MultipleChoiceField(
        label="May begin today", required=False, widget=forms.CheckboxSelectMultiple,
        choices=[(str(each.kind), _say_activity(each, subject, today)) for each in activities],
    )  # fmt: skip
    after = forms.ChoiceField(
        label="Next step", choices=words(AfterVisit), widget=forms.RadioSelect,
        error_messages={"required": "Say what is to happen next with this finger."},
    )  # fmt: skip
    minutes = forms.TypedChoiceField(
        label="Minutes", coerce=int, required=False, choices=[(n, str(n)) for n in LENGTHS]
    )
    return ({"started": started} if subject.activities else {}) | {
        "after": after,
        "in_days": _count("Review in days", FURTHEST_DAY, 1),
        "minutes": minutes,
        "received_by": LineField(label="Referred back to", most=120, required=False),
    }


def grip_waits(subject: Subject, today: date, *, closed: bool = False) -> str:
    """Why the grip of this hand is not to be tried yet, in words; empty where nothing is in the way.

    `closed`: the visit itself finds the wound closed, so that only the day can be in the way.
    """
    tight = next((each for each in subject.activities if each.kind is ActivityKind.TIGHT_GRIP), None)
    if tight is None:
        return ""
    return "; ".join(_keeps(tight._replace(locks=()) if closed else tight, subject, today))


def _keeps(activity: Activity, subject: Subject, today: date) -> list[str]:
    """What keeps an activity from being begun today, in words."""
    said = [f"locked: {', '.join(map(label, activity.locks))}"] if activity.locks else []
    since = subject.episode.surgery_on
    return [*said, f"from {say_numbered(activity.from_on, since)}"] if today < activity.from_on else said


def _say_activity(activity: Activity, subject: Subject, today: date) -> SafeString:
    """The activity, and beside it what keeps it locked today or since when the patient does it."""
    said = _keeps(activity, subject, today)
    if on := subject.begun.get(activity.kind):
        said.append(f"begun {say_numbered(on, subject.episode.surgery_on)}")
    beside = format_html(' <span class="soft">{}</span>', "; ".join(said)) if said else ""
    shut = mark_safe(marks.shape("shut")) if activity.locks else ""
    return format_html("{}{}{}", shut, label(activity.kind), beside)


def _choice(text: str, options: Sequence[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=text, choices=options, widget=forms.RadioSelect, required=False)
