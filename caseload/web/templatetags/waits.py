"""The waits in templates: a period as the heading of a column."""

from django import template

from caseload.wording.dates import say_period

register = template.Library()
register.filter("stretch", say_period)
