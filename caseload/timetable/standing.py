"""A follow-up on a date: its status, the days it is late, and how it is booked. No day changes what is stored of it."""

from collections.abc import Iterable
from datetime import date

from caseload.timetable.facts import Appointment
from caseload.timetable.plan import FollowUp, Timetable
from caseload.timetable.terms import Booking, Outcome, Status


def status(follow_up: FollowUp, today: date) -> Status:
    """Done, not needed, or by its window. What is provisional is never late."""
    if follow_up.done_on is not None:
        return Status.DONE
    if follow_up.dropped:
        return Status.NOT_NEEDED
    if today < follow_up.earliest_on:
        return Status.AHEAD
    return Status.OPEN if today <= follow_up.latest_on or follow_up.provisional else Status.LATE


def days_late(follow_up: FollowUp, today: date) -> int:
    """Days since its latest day; 0 unless it is late."""
    return (today - follow_up.latest_on).days if status(follow_up, today) is Status.LATE else 0


def booking(appointments: Iterable[Appointment], follow_up: FollowUp, today: date) -> Booking:
    """How it is booked: by its live appointment, by the attended one it was done at, or by the last that failed."""
    if follow_up.booked_on is not None:
        return Booking.NO_OUTCOME if follow_up.booked_on < today else _placed(follow_up, follow_up.booked_on)
    held = [each for each in appointments if serves(each, follow_up)]
    last = max(held, key=lambda appointment: appointment.on, default=None)
    if last is not None and last.outcome is Outcome.DID_NOT_ATTEND:
        return Booking.DID_NOT_ATTEND
    if last is not None and last.outcome is Outcome.ATTENDED and follow_up.done_on:
        return _placed(follow_up, last.on)
    return Booking.NONE


def serves(appointment: Appointment, follow_up: FollowUp) -> bool:
    """Whether an appointment is for this follow-up, by its key, or by its kind once it was caused."""
    if follow_up.key in appointment.serves:
        return True
    return str(follow_up.kind) in appointment.serves and follow_up.anchor_on <= appointment.on


def safety_alert(timetable: Timetable, today: date) -> bool:
    """Whether stitches or wound should have been settled by now and are not on record as such."""
    return timetable.safety_from is not None and timetable.safety_from <= today


def is_planned(timetable: Timetable, today: date) -> bool:
    """Whether the surgery is still to come: such an episode is not on the caseload yet."""
    return timetable.surgery_on is not None and timetable.surgery_on > today


def _placed(follow_up: FollowUp, on: date) -> Booking:
    return Booking.INSIDE if follow_up.has_inside(on) else Booking.OUTSIDE
