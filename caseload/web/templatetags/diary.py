"""What the pages of the diary say of appointments and follow-ups."""

from collections.abc import Iterable

from django import template

from caseload.models import FollowUp
from caseload.timetable.terms import FollowUpKind
from caseload.wording import label
from caseload.wording.appointments import say_time
from caseload.wording.record import say_hand

register = template.Library()
register.filter("time", say_time)
register.filter("hand", say_hand)


@register.filter
def kind(word: str) -> str:
    return label(FollowUpKind(word))


@register.filter
def purposes(rows: Iterable[FollowUp]) -> str:
    """`Stitches out (right ring finger), Outcome review (left thumb)`."""
    return ", ".join(f"{kind(row.kind)} ({say_hand(row.episode)})" for row in rows)
