"""How long records are kept, in words."""

from django import template

from caseload.models import Patient
from caseload.wording import say_date
from caseload.wording.retention import say_why

register = template.Library()
register.filter("kept_because", say_why)


@register.filter
def kept_for(patient: Patient) -> str:
    """Until when and why a lead keeps the record; empty where it is kept no longer than others."""
    if not patient.keep_why:
        return ""
    until = f"until {say_date(patient.keep_until_on)}" if patient.keep_until_on else "until a lead takes that back"
    return f"Kept beyond its time, {until}: {patient.keep_why}"
