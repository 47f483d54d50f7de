"""What a patient is to be told of an appointment, in words."""

from django import template

from caseload.reads.untold import Untold
from caseload.timetable.terms import Outcome
from caseload.wording import label, say_date
from caseload.wording.appointments import say_time

register = template.Library()


@register.filter
def news(untold: Untold) -> str:
    """`Moved from Thu 2 Apr 2026 to Tue 7 Apr 2026, 09:20.`"""
    appointment, time = untold.appointment, say_time(untold.appointment)
    if not appointment.live:
        why = f" ({appointment.ended_why})" if appointment.ended_why else ""
        return f"{label(Outcome(appointment.outcome)).capitalize()}: {time}{why}."
    return f"Moved from {say_date(untold.before_on)} to {time}." if untold.before_on else f"Booked for {time}."
