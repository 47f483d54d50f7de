"""What the pages of the record need beside the values of their view: days counted from surgery, trade words of rows."""

from datetime import date, datetime
from enum import StrEnum

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.booking import slots
from caseload.models import Appointment
from caseload.parsing import Priority, Risk
from caseload.timetable import terms
from caseload.web import dayline, marks
from caseload.web.marks import whole
from caseload.wording import label, say_date
from caseload.wording.appointments import say_time
from caseload.wording.dates import say_days, say_instant
from caseload.wording.record import say_found, say_hand

register = template.Library()
register.filter("hand", say_hand)
register.filter("found", say_found)
register.filter("anchor", dayline.anchor)
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
def time(appointment: Appointment) -> SafeString:
    return whole(say_time(appointment))


@register.filter
def when(at: datetime) -> SafeString:
    return whole(say_instant(at))


@register.filter
def number(on: date | None, surgery_on: date | None) -> str:
    """`day 14`, counted from surgery, or `3 days before`; empty where either is not known."""
    if not on or not surgery_on:
        return ""
    days = (on - surgery_on).days
    return f"{say_days(-days)} before" if days < 0 else f"day {days}"


@register.filter
def counted(on: date | None, surgery_on: date | None) -> SafeString | str:
    """A date in words with its day number beside it; empty for no date."""
    if on is None:
        return ""
    beside = format_html(' <span class="soft nowrap">{}</span>', number(on, surgery_on)) if surgery_on else ""
    return format_html('<span class="nowrap">{}</span>{}', say_date(on), beside)


@register.filter
def clock(appointment: Appointment) -> str:
    """`09:20`; empty for one without a time."""
    return "" if appointment.start_minute is None else slots.clock(appointment.start_minute)


@register.simple_tag
def shape(name: str) -> SafeString:
    return mark_safe(marks.shape(name))
