"""What pages need of sessions: hours and what they take in words, and the end of a holiday list."""

from typing import Any

from django import template

from caseload.reads.sessions import holiday_notice as read_notice
from caseload.timetable.terms import Owner
from caseload.web.clock import by_of
from caseload.wording.sessions import WEEKDAYS, say_hours, say_odd, say_takes

register = template.Library()
register.filter("hours", say_hours)
register.filter("takes", say_takes)
register.filter("oddity", say_odd)


@register.filter
def weekday(number: int) -> str:
    return str(WEEKDAYS[number])


@register.simple_tag(takes_context=True)
def holiday_notice(context: dict[str, Any]) -> str:
    """For lead and admin, who can have it mended: that a holiday list ends within a year."""
    by = by_of(context["request"])
    return "" if by.roles.isdisjoint({Owner.ADMIN, Owner.LEAD}) else read_notice(by.today)
