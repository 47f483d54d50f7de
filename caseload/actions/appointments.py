"""Booked days: noted, ended, told. Sessions and slots come with the diary and keep these acts."""

from collections.abc import Sequence
from datetime import date

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.settle import Moved, settle_keys
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Site, State, Told
from caseload.reads.calendars import calendar_of
from caseload.timetable.terms import Outcome

LONGEST = 60


@act(Act.APPOINTMENT_NOTE)
def note_day(
    follow_ups: Sequence[FollowUp], *, by: By, on: date, site: Site, told: str = Told.TOLD, approved_by: str = ""
) -> Appointment:
    """Note the day booked for one or more follow-ups of one patient.

    Raises Refusal for a closed day, a day beyond the holiday data, a follow-up that is booked already or not due, or a
    day before the window without the name of the clinician who approved it.
    """
    _check(follow_ups, on, site, approved_by, by)
    appointment = Appointment(
        patient_id=follow_ups[0].patient_id, site=site, on=on, booked_at=by.at, approved_by=approved_by, told=told,
        minutes=max(20, min(LONGEST, sum(row.minutes for row in follow_ups))),
        untold_since_on=by.today if told == Told.UNTOLD else None,
    )  # fmt: skip
    appointment.save()
    _serve(appointment, follow_ups)
    changed: Moved = {"on": (None, on), "for": ("", ", ".join(row.key for row in follow_ups))}
    _settled(Act.APPOINTMENT_NOTE, appointment, by, changed)
    return appointment


@act(Act.APPOINTMENT_END)
def end(
    appointment: Appointment, *, by: By, outcome: Outcome, why: str = "", version: int | None = None
) -> Appointment:
    """Record how it ended. A cancellation by the clinic leaves the patient to be told."""
    fresh(appointment, version)
    if appointment.outcome:
        raise Refusal("ended-already", "The outcome of this appointment is recorded already.")
    attended_day = outcome in (Outcome.ATTENDED, Outcome.DID_NOT_ATTEND)
    if attended_day and appointment.on > by.today:
        raise Refusal(
            "not-yet", "This appointment is still to come. It can be cancelled, not attended.", field="outcome"
        )
    untold = outcome == Outcome.CANCELLED_BY_CLINIC
    moved = apply(
        appointment,
        {"outcome": outcome, "live": outcome == Outcome.ATTENDED, "ended_on": by.today, "ended_why": why}
        | ({"told": Told.UNTOLD, "untold_since_on": by.today} if untold else {}),
    )
    appointment.purposes.update(live=False)  # over either way: what it leaves undone can be booked again
    _settled(Act.APPOINTMENT_END, appointment, by, moved)
    return appointment


@act(Act.APPOINTMENT_TELL)
def tell(appointment: Appointment, *, by: By, told: str) -> Appointment:
    """Record that the patient was told, or that a message was left."""
    fresh(appointment, None)
    moved = apply(appointment, {"told": told, "untold_since_on": None if told != Told.UNTOLD else by.today})
    _settled(Act.APPOINTMENT_TELL, appointment, by, moved)
    return appointment


def _check(follow_ups: Sequence[FollowUp], on: date, site: Site, approved_by: str, by: By) -> None:
    if len({row.patient_id for row in follow_ups}) != 1:
        raise Refusal("one-patient", "Choose follow-ups of one patient.", field="follow_ups")
    if on < by.today:
        raise Refusal("day-past", "This day is past. Record what was found instead.", field="on")
    calendar = calendar_of(site)
    if on > calendar.covered_until:
        raise Refusal("beyond-holidays", f"The holiday list of {site} ends on {calendar.covered_until:%d %b %Y}. "
                      "Have it extended before booking later days.", field="on")  # fmt: skip
    if not calendar.is_open(on):
        raise Refusal("day-closed", f"{site} is closed on that day. Choose another.", field="on")
    for row in follow_ups:
        if row.state != State.DUE:
            raise Refusal("not-due", "One of these follow-ups is not due any more. Open the page again.")
        if on < row.earliest_on and not row.provisional and not approved_by.strip():
            raise Refusal("too-early", f"The window opens on {row.earliest_on:%d %b %Y}. An earlier day needs the name "
                          "of the clinician who approved it.", field="approved_by")  # fmt: skip


def _serve(appointment: Appointment, follow_ups: Sequence[FollowUp]) -> None:
    try:
        with transaction.atomic():
            Purpose.objects.bulk_create(Purpose(appointment=appointment, follow_up=row) for row in follow_ups)
    except IntegrityError:
        raise Refusal("booked-already", "One of these follow-ups was booked meanwhile. Open the page again.") from None


def _settled(name: Act, appointment: Appointment, by: By, changed: Moved) -> None:
    served = set(appointment.purposes.values_list("follow_up__episode", flat=True))
    for moved in settle_keys(served).values():
        changed = changed | moved
    trail(name, appointment, by=by, patient_id=appointment.patient_id, changed=changed)
