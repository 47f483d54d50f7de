"""What the pages of the record need beside the values of their view: days counted from surgery, trade words of rows."""

from datetime import date, datetime
from enum import StrEnum

from django import template
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.booking import slots
from caseload.models import Appointment, Episode, Finding
from caseload.parsing import Priority, Risk
from caseload.timetable import terms
from caseload.web import dayline, marks
from caseload.wording import label, say_date
from caseload.wording.appointments import say_time
from caseload.wording.record import say_found, say_hand

register = template.Library()
ROWS: dict[str, type[StrEnum]] = {
    "side": terms.Side, "digit": terms.Digit, "technique": terms.Technique, "suture": terms.Suture,
    "kind": terms.FollowUpKind, "outcome": terms.Outcome, "ending": terms.Ending, "owner": terms.Owner,
    "source": terms.Source, "after": terms.AfterVisit, "way": terms.Way, "priority": Priority, "risk": Risk,
}  # fmt: skip
"""Which words a text column of a row is of."""


@register.filter
def word(value: str, kind: str) -> str:
    """The text of a column in words: `{{ episode.digit|word:"digit" }}`; empty stays empty."""
    return label(ROWS[kind](value)) if value else ""


@register.filter
def hand(episode: Episode) -> str:
    """Which hand and finger an episode is of."""
    return say_hand(episode)


@register.filter
def found(finding: Finding) -> str:
    """What a finding says."""
    return say_found(finding)


@register.filter
def number(on: date | None, surgery_on: date | None) -> str:
    """`day 14`, counted from surgery; empty where either is not known."""
    return f"day {(on - surgery_on).days}" if on and surgery_on else ""


@register.filter
def counted(on: date | None, surgery_on: date | None) -> SafeString | str:
    """A date in words with its day number beside it; empty for no date."""
    if on is None:
        return ""
    beside = format_html(' <span class="soft nowrap">{}</span>', number(on, surgery_on)) if surgery_on else ""
    return format_html('<span class="nowrap">{}</span>{}', say_date(on), beside)


@register.filter
def time(appointment: Appointment) -> str:
    """`Thu 2 Apr 2026, 09:20`; only the day of one without a time."""
    return say_time(appointment)


@register.filter
def clock(appointment: Appointment) -> str:
    """`09:20`; empty for one without a time."""
    return "" if appointment.start_minute is None else slots.clock(appointment.start_minute)


@register.filter
def when(at: datetime) -> str:
    """An instant as a local day and time."""
    local = timezone.localtime(at)
    return f"{say_date(local.date())}, {local:%H:%M}"


@register.filter
def anchor(key: str) -> str:
    """The id of an entry that the day line leads to."""
    return dayline.anchor(key)


@register.simple_tag
def shape(name: str) -> SafeString:
    return mark_safe(marks.shape(name))
