"""What an appointment was before the last act on it, kept for the minutes in which that can be taken back."""

from datetime import date, datetime
from typing import Any, Final

from caseload.access import Act
from caseload.actions import appointed, seats
from caseload.actions.act import By, act, apply, plain
from caseload.actions.in_step import let_go
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Session, UndoStep
from caseload.reads.undoable import WITHIN
from caseload.timetable.terms import Owner

PLACE: Final = ("session_id", "site_id", "on", "start_minute", "minutes", "way", "live")
"""Fields that a calendar that took the appointment in must hear of."""
KEPT: Final = (
    *PLACE, "outcome", "arrived_at", "told", "untold_since_on", "interpreter_told", "approved_by", "approved_why",
    "ended_on", "ended_why", "changed_at",
)  # fmt: skip


def memento(appointment: Appointment) -> dict[str, Any]:
    """The appointment as plain JSON values."""
    return {name: plain(getattr(appointment, name)) for name in KEPT}


def remember(appointment: Appointment, before: dict[str, Any], *, by: By) -> None:
    """Keep `before` (empty: it was only just booked); acts of the planner itself are not taken back."""
    if by.staff is None:
        UndoStep.objects.filter(appointment=appointment).delete()
        return
    step = UndoStep(appointment=appointment, by=by.staff, at=by.at, version=appointment.version, before=before)
    UndoStep.objects.bulk_create(
        [step], update_conflicts=True, unique_fields=["appointment"], update_fields=["by", "at", "version", "before"]
    )


def restored(before: dict[str, Any]) -> dict[str, Any]:
    """The fields of a memento as values."""
    read = {"on": date.fromisoformat, "untold_since_on": date.fromisoformat, "ended_on": date.fromisoformat,
            "arrived_at": datetime.fromisoformat, "changed_at": datetime.fromisoformat}  # fmt: skip
    return {name: read[name](value) if value and name in read else value for name, value in before.items()}


@act(Act.APPOINTMENT_UNDO)
def undo(appointment: Appointment, *, by: By) -> Appointment:
    """Take the last act on an appointment back; one that was only just booked is taken away.

    Raises Refusal `undo-too-late`, `undo-not-yours`, `undo-overtaken`; `slot-taken` where its old place has gone, and
    `booked-already` where what it was for is booked elsewhere meanwhile.
    """
    back_to = _session_before(appointment)
    if back_to:
        seats.lock_session(back_to, appointment.session_id)
    rows = appointed.lock(appointment, None)
    step = _step(appointment, by)
    before = restored(step.before)
    if not before:
        return _take_away(appointment, rows, by)
    if before["session_id"] != (back_to and back_to.pk):
        raise _overtaken()
    was = [getattr(appointment, name) for name in PLACE]
    raised = was != [before[name] for name in PLACE]
    newer = {"sequence": appointment.sequence + 1, "changed_at": by.at} if raised else {}
    moved = apply(appointment, before | newer)
    _take_place(appointment, rows, back_to, moved=raised)
    step.delete()
    appointed.settled(Act.APPOINTMENT_UNDO, appointment, rows, by, moved)
    return appointment


def _session_before(appointment: Appointment) -> Session | None:
    """The session that the step leads back to, read before anything is locked: sessions are locked first."""
    step = UndoStep.objects.filter(appointment=appointment).first()
    return Session.objects.filter(pk=step.before.get("session_id")).first() if step else None


def _step(appointment: Appointment, by: By) -> UndoStep:
    """The step that may be taken back now by this person."""
    step = UndoStep.objects.filter(appointment=appointment).select_related("by").first()
    if step is None or step.version != appointment.version:
        raise _overtaken()
    if by.at - step.at > WITHIN:
        raise Refusal("undo-too-late", "Only the last ten minutes can be taken back. Change the appointment instead.")
    if step.by != by.staff and Owner.LEAD not in by.roles:
        raise Refusal("undo-not-yours", f"{step.by.name} did this. They, or a lead, can take it back.")
    return step


def _overtaken() -> Refusal:
    return Refusal("undo-overtaken", "Something else was done with this appointment since. Look at it as it is now.")


def _take_away(appointment: Appointment, rows: list[FollowUp], by: By) -> Appointment:
    """Remove a booking as if it had not been made. Its trail stays; the object keeps its key for the caller."""
    key, was = appointment.pk, appointment.on
    let_go(appointment, by=by)
    appointment.delete()
    appointment.pk = key
    appointed.settled(Act.APPOINTMENT_UNDO, appointment, rows, by, {"on": (was, None)})
    return appointment


def _take_place(appointment: Appointment, rows: list[FollowUp], session: Session | None, *, moved: bool) -> None:
    """Sit again where it was, and serve again what it was for if it is to come."""
    if not appointment.live:
        return
    if not appointment.outcome and any(row.episode.ended_on for row in rows):
        raise Refusal("episode-closed", "The episode was closed meanwhile, so the visit does not come back.")
    if moved and session:
        seats.give_up(appointment)
        seats.take(appointment, session)
    if not appointment.outcome:
        seats.revive(appointment)
