"""What the pages of the intake need beside the values of their view: what rows were found to be, counts in words."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.models import Verdict
from caseload.reads.intake import Tally
from caseload.web import marks
from caseload.wording.intake import say_taking, say_unread

register = template.Library()
register.filter("unread", say_unread)
SHAPES = {
    Verdict.NEW: "disc",
    Verdict.CHANGED: "half",
    Verdict.KNOWN: "tick",
    Verdict.DOUBTFUL: "hole",
    Verdict.REFUSED: "tri",
}


@register.simple_tag
def found_to_be(verdict: Verdict) -> SafeString:
    """What a row was found to be, as shape and word."""
    return format_html("{}{}", mark_safe(marks.shape(SHAPES[verdict])), verdict.label)


@register.filter
def taking(counts: Tally) -> str:
    """What the rows that are taken do, in numbers."""
    outcomes = counts.outcomes
    return say_taking(outcomes[Verdict.NEW], outcomes[Verdict.CHANGED], outcomes[Verdict.KNOWN])
