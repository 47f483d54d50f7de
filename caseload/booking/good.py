"""What keeps an appointment from being a good one."""

from collections.abc import Sequence
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from caseload.booking.needs import Asked, minutes_for
from caseload.timetable.terms import Way


class Fault(StrEnum):
    OUTSIDE_WINDOW = "outside-window"
    TOO_SHORT = "too-short"
    OTHER_SITE = "other-site"
    NEEDS_IN_PERSON = "needs-in-person"


class Booked(NamedTuple):
    """An appointment. `approved`: a clinician agreed to a day before the window. `interpreter_told` is None where
    none is needed; an interpreter not told yet is the admin's to tell, and no fault of the appointment."""

    on: date
    minutes: int
    site: int
    way: Way
    approved: bool
    interpreter_told: bool | None


def faults(asked: Sequence[Asked], booked: Booked, *, site: int, interpreter: bool) -> tuple[Fault, ...]:
    """Everything amiss with an appointment that serves all of `asked`; `site` is the patient's."""
    found = {
        Fault.OUTSIDE_WINDOW: any(_is_outside(each, booked) for each in asked),
        Fault.TOO_SHORT: booked.minutes < minutes_for((each.minutes for each in asked), interpreter),
        Fault.OTHER_SITE: booked.site != site,
        Fault.NEEDS_IN_PERSON: booked.way is not Way.IN_PERSON and any(each.in_person for each in asked),
    }
    return tuple(fault for fault, is_so in found.items() if is_so)


def _is_outside(asked: Asked, booked: Booked) -> bool:
    """A provisional follow-up is never outside; an approved early day is not either."""
    if asked.provisional:
        return False
    return booked.on > asked.latest or (booked.on < asked.earliest and not booked.approved)
