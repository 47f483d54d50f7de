"""Where an appointment was before: the times that its patient may still have in mind."""

from datetime import date
from typing import NamedTuple

from caseload.models import Appointment, Told, TrailEntry


class Time(NamedTuple):
    on: date
    minute: int | None


def earlier_times(appointment: Appointment) -> list[Time]:
    """When it was to be since its patient last knew of it, the oldest first, as the trail has it. One query."""
    entries = TrailEntry.objects.filter(subject="appointment", subject_id=appointment.pk).order_by("-at", "-pk")
    now = here = Time(appointment.on, appointment.start_minute)
    found: list[Time] = []
    for changed in entries.values_list("changed", flat=True):
        on, minute = (changed.get(field, [None])[0] for field in ("on", "start_minute"))
        here = Time(date.fromisoformat(str(on)) if on else here.on, here.minute if minute is None else minute)
        if (on or minute is not None) and here != now:
            found.insert(0, here)
        if changed.get("told", [Told.UNTOLD])[0] != Told.UNTOLD:
            break
    return list(dict.fromkeys(found))
