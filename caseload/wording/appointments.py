"""Appointments in words: where they are, and what was last done with them."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from caseload.booking.slots import clock
from caseload.models import Appointment
from caseload.timetable.terms import Outcome, Way
from caseload.wording.dates import say_date
from caseload.wording.labels import label

NOTHING_TICKED = lazy("Nothing was ticked, so nothing has changed. Tick those that you mean and press again.")


def say_time(appointment: Appointment) -> str:
    """`Thu 2 Apr 2026, 09:20`; a walk-in has no time."""
    day = say_date(appointment.on)
    return day if appointment.start_minute is None else f"{day}, {clock(appointment.start_minute)}"


def say_last(appointment: Appointment, before: Mapping[str, Any]) -> str:
    """What was done last, from what the appointment was before (empty: it was only just booked)."""
    time = say_time(appointment)
    if not before:
        return _("booked for %(time)s") % {"time": time}
    if before["outcome"] != appointment.outcome:
        how = label(Outcome(appointment.outcome)) if appointment.outcome else _("to come again")
        return _("%(how)s, %(time)s") % {"how": how, "time": time}
    if any(before[name] != getattr(appointment, name) for name in ("session_id", "start_minute")):
        return _("moved to %(time)s") % {"time": time}
    if before["way"] != appointment.way:
        return _("%(way)s, %(time)s") % {"way": label(Way(appointment.way)), "time": time}
    if bool(before["arrived_at"]) != bool(appointment.arrived_at):
        return _("has come, %(time)s") % {"time": time}
    return _("%(told)s, %(time)s") % {"told": appointment.get_told_display(), "time": time}
