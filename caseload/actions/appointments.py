"""Appointments: booked, moved, ended, told. Who waits in a race for a slot is decided by the database."""

from collections.abc import Sequence
from typing import Any, Final

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions import appointed, seats, undoing
from caseload.actions.act import By, act, apply, trail
from caseload.actions.bookable import check_not_early, check_place, check_purposes, check_start, length_of
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Session, Told
from caseload.timetable.terms import Outcome, Way

OF_THE_DAY: Final = (Outcome.ATTENDED, Outcome.DID_NOT_ATTEND)


@act(Act.APPOINTMENT_BOOK)
def book(
    follow_ups: Sequence[FollowUp],
    *,
    by: By,
    session: Session,
    start: int,
    way: Way = Way.IN_PERSON,
    told: str = Told.TOLD,
    interpreter_told: bool = False,
    approved_by: str = "",
    approved_why: str = "",
) -> Appointment:
    """Book one visit for one or more follow-ups of a patient, from the minute `start` of the session's day.

    Raises Refusal for anything in `actions.bookable`, for a slot that is held or taken, for a follow-up that is booked.
    """
    seats.lock_session(session)
    seats.lock_episodes(row.episode_id for row in follow_ups)
    rows = appointed.stored(pk__in=[row.pk for row in follow_ups])
    check_purposes(rows)
    check_place(rows, session, way, by=by)
    check_start(session, start, by=by)
    check_not_early(rows, session.on, approved_by, approved_why)
    patient = rows[0].patient
    appointment = Appointment.objects.create(
        patient=patient, site_id=session.site_id, session=session, on=session.on, start_minute=start, way=way,
        minutes=length_of(rows, interpreter=patient.interpreter), booked_at=by.at, changed_at=by.at, told=told,
        untold_since_on=by.today if told == Told.UNTOLD else None, approved_by=approved_by, approved_why=approved_why,
        interpreter_told=interpreter_told if patient.interpreter else None,
    )  # fmt: skip
    _serve(appointment, rows)
    seats.take(appointment, session)
    undoing.remember(appointment, {}, by=by)
    changed = {"on": (None, session.on), "start_minute": (None, start), "for": ("", ", ".join(row.key for row in rows))}
    appointed.settled(Act.APPOINTMENT_BOOK, appointment, rows, by, changed)
    return appointment


@act(Act.APPOINTMENT_MOVE)
def move(
    appointment: Appointment,
    *,
    by: By,
    session: Session,
    start: int,
    way: Way | None = None,
    told: str = Told.TOLD,
    interpreter_told: bool = False,
    approved_by: str = "",
    approved_why: str = "",
    version: int | None = None,
) -> Appointment:
    """Move a live appointment to another time; it stays the same appointment, and a calendar sees it move.

    Raises Refusal `has-come` once the patient is there, `not-moved` where it is there already, and what booking raises.
    """
    left = appointment.session_id
    seats.lock_session(session, left)
    rows = appointed.lock_open(appointment, version)
    _check_not_come(appointment)
    _check_moved(appointment, left, session, start, way)
    way = way or Way(appointment.way)
    check_place(rows, session, way, by=by)
    check_start(session, start, by=by)
    check_not_early(rows, session.on, approved_by, approved_why)
    interpreter = appointment.patient.interpreter
    before = undoing.memento(appointment)
    seats.give_up(appointment)
    moved = apply(appointment, {
        "session": session, "site_id": session.site_id, "on": session.on, "start_minute": start, "way": way,
        "minutes": length_of(rows, interpreter=interpreter), "told": told, "arrived_at": None,
        "untold_since_on": by.today if told == Told.UNTOLD else None, "approved_by": approved_by,
        "approved_why": approved_why, "interpreter_told": interpreter_told if interpreter else None,
        "sequence": appointment.sequence + 1, "changed_at": by.at,
    })  # fmt: skip
    seats.take(appointment, session)
    undoing.remember(appointment, before, by=by)
    appointed.settled(Act.APPOINTMENT_MOVE, appointment, rows, by, moved)
    return appointment


@act(Act.APPOINTMENT_END)
def end(
    appointment: Appointment, *, by: By, outcome: Outcome, why: str = "", told: str = "", version: int | None = None
) -> Appointment:
    """Record how it ended. A cancellation by the clinic leaves the patient to be told, unless `told` says they know."""
    rows = appointed.lock_open(appointment, version)
    if outcome in OF_THE_DAY and appointment.on > by.today:
        raise Refusal(
            "not-yet", "This appointment is still to come. It can be cancelled, not attended.", field="outcome"
        )
    before = undoing.memento(appointment)
    moved = apply(appointment, _ended(appointment, outcome, why, told, by))
    if not appointment.live:
        seats.give_up(appointment)
    appointment.purposes.update(live=False)  # over either way: what it leaves undone can be booked again
    undoing.remember(appointment, before, by=by)
    appointed.settled(Act.APPOINTMENT_END, appointment, rows, by, moved)
    return appointment


@act(Act.APPOINTMENT_TELL)
def tell(
    appointment: Appointment, *, by: By, told: str, interpreter_told: bool | None = None, version: int | None = None
) -> Appointment:
    """Record that the patient was told, or that a message was left; and whether the interpreter is booked."""
    rows = appointed.lock(appointment, version)
    since = (appointment.untold_since_on or by.today) if told == Told.UNTOLD else None
    changes: dict[str, Any] = {"told": told, "untold_since_on": since}
    if interpreter_told is not None and appointment.patient.interpreter:
        changes["interpreter_told"] = interpreter_told
    before = undoing.memento(appointment)
    moved = apply(appointment, changes)
    if moved:
        undoing.remember(appointment, before, by=by)
    appointed.settled(Act.APPOINTMENT_TELL, appointment, rows, by, moved)
    return appointment


@act(Act.APPOINTMENT_ARRIVE)
def arrive(appointment: Appointment, *, by: By, version: int | None = None) -> Appointment:
    """The patient has come and waits to be seen."""
    appointed.lock_open(appointment, version)
    if appointment.on != by.today:
        raise Refusal("not-today", "This appointment is not of today.")
    if appointment.arrived_at:
        raise Refusal("arrived-already", "It is recorded already that the patient has come.")
    before = undoing.memento(appointment)
    moved = apply(appointment, {"arrived_at": by.at})
    undoing.remember(appointment, before, by=by)
    trail(Act.APPOINTMENT_ARRIVE, appointment, by=by, patient_id=appointment.patient_id, changed=moved)
    return appointment


def _check_not_come(appointment: Appointment) -> None:
    if appointment.arrived_at:
        raise Refusal(
            "has-come",
            "It is recorded that this patient has come, so the appointment stays where it is. Record its outcome; "
            "what is still to be done can then be booked anew.",
        )


def _check_moved(appointment: Appointment, left: int | None, session: Session, start: int, way: Way | None) -> None:
    """It is still in the session that was locked with the new one, and not already where it is to go."""
    if appointment.session_id != left:
        raise Refusal("changed-meanwhile", "This appointment was moved meanwhile. Look where it is now.")
    now = (appointment.session_id, appointment.start_minute, appointment.way)
    if now == (session.pk, start, way or appointment.way):
        raise Refusal("not-moved", "The appointment is there already. Choose another time.", field="slot")


def _ended(appointment: Appointment, outcome: Outcome, why: str, told: str, by: By) -> dict[str, Any]:
    ended: dict[str, Any] = {
        "outcome": outcome, "live": outcome == Outcome.ATTENDED, "ended_on": by.today, "ended_why": why,
        "changed_at": by.at,
    }  # fmt: skip
    if outcome in OF_THE_DAY:
        return ended
    said = told or (Told.UNTOLD if outcome == Outcome.CANCELLED_BY_CLINIC else Told.TOLD)
    untold_since_on = by.today if said == Told.UNTOLD else None
    return ended | {"sequence": appointment.sequence + 1, "told": said, "untold_since_on": untold_since_on}


def _serve(appointment: Appointment, follow_ups: Sequence[FollowUp]) -> None:
    try:
        with transaction.atomic():
            Purpose.objects.bulk_create(Purpose(appointment=appointment, follow_up=row) for row in follow_ups)
    except IntegrityError:
        raise Refusal("booked-already", "One of these follow-ups was booked meanwhile. Open the page again.") from None
