"""The waits in templates: a period as the heading of a column."""

from django import template

from caseload.waits.rows import Period
from caseload.wording.dates import say_period

register = template.Library()


@register.filter
def stretch(period: Period) -> str:
    return say_period(period)
