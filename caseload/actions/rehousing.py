"""A session falls away, and its patients find another place.

Calling a session off ends its appointments at once, untold, so that what they were for is back on the booking list in
the same transaction: nobody is lost however long the rehousing takes. Rehousing brings such an appointment back to
life in its new place, as the same appointment; it stays untold until somebody records otherwise.
"""

from collections.abc import Iterable, Sequence

from caseload.access import Act
from caseload.actions import appointed, seats
from caseload.actions.act import By, act, apply, trail
from caseload.actions.bookable import check_not_early, check_place, check_purposes, check_start, length_of
from caseload.actions.in_step import keep_in_step
from caseload.actions.resettle import resettle
from caseload.actions.settle import settle_keys
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Session, Told
from caseload.timetable.terms import Outcome, Way


@act(Act.SESSIONS_LOSE)
def call_off(sessions: Iterable[Session], *, by: By, why: str) -> int:
    """Sessions do not take place; gives back how many appointments were ended for it. Raises Refusal `why-missing`."""
    if not why.strip():
        raise Refusal("why-missing", "Say why the session is called off.", field="why")
    rows = list(
        Session.objects.select_for_update().filter(pk__in=[each.pk for each in sessions], live=True).order_by("pk")
    )
    lost = [appointment for session in rows for appointment in _to_come(session)]
    touched = set(Purpose.objects.filter(appointment__in=lost).values_list("follow_up__episode", flat=True))
    seats.lock_episodes(touched)
    for appointment in lost:
        _let_go(appointment, by, why)
    for session in rows:
        moved = apply(session, {"live": False, "lost_why": why.strip(), "changed": True})
        session.slots.update(live=False)
        trail(Act.SESSIONS_LOSE, session, by=by, patient_id=None, changed=moved)
    settle_keys(touched)
    if rows:
        resettle({row.site_id for row in rows}, min(row.on for row in rows), max(row.on for row in rows))
    keep_in_step((row.pk for row in lost), by=by)
    return len(lost)


@act(Act.SESSIONS_LOSE)
def rehouse(
    appointment: Appointment,
    *,
    by: By,
    session: Session,
    start: int,
    told: str = Told.UNTOLD,
    interpreter_told: bool = False,
    approved_by: str = "",
    approved_why: str = "",
) -> Appointment:
    """Give an appointment of a called-off session its new place.

    Raises Refusal `not-to-rehouse` unless it was ended for that, and what booking raises.
    """
    seats.lock_session(session)
    rows = appointed.lock(appointment, None)
    if not is_to_rehouse(appointment):
        raise Refusal("not-to-rehouse", "This appointment is not waiting for another place any more.")
    check_purposes(rows)
    check_place(rows, session, Way(appointment.way), by=by)
    check_start(session, start, by=by)
    check_not_early(rows, session.on, approved_by, approved_why)
    new = place_of(appointment, rows, session, start, by)
    moved = apply(appointment, new | {
        "told": told, "untold_since_on": by.today if told == Told.UNTOLD else None,
        "interpreter_told": interpreter_told if appointment.patient.interpreter else None,
        "approved_by": approved_by, "approved_why": approved_why,
    })  # fmt: skip
    seats.revive(appointment)
    seats.take(appointment, session)
    appointed.settled(Act.SESSIONS_LOSE, appointment, rows, by, moved)
    return appointment


def place_of(
    appointment: Appointment, rows: Sequence[FollowUp], session: Session, start: int, by: By
) -> dict[str, object]:
    """What becomes of an appointment in its new place, where nobody was told yet and nobody approved anything."""
    interpreter = appointment.patient.interpreter
    return {
        "session": session, "site_id": session.site_id, "on": session.on, "start_minute": start, "live": True,
        "minutes": length_of(rows, interpreter=interpreter), "outcome": "", "ended_on": None, "ended_why": "",
        "told": Told.UNTOLD, "untold_since_on": by.today, "interpreter_told": False if interpreter else None,
        "approved_by": "", "approved_why": "", "sequence": appointment.sequence + 1, "changed_at": by.at,
    }  # fmt: skip


def is_to_rehouse(appointment: Appointment) -> bool:
    """Whether it fell away with its session."""
    session = appointment.session
    return session is not None and not session.live and appointment.outcome == Outcome.CANCELLED_BY_CLINIC


def _to_come(session: Session) -> list[Appointment]:
    return list(session.appointments.filter(live=True, outcome="").order_by("pk"))


def _let_go(appointment: Appointment, by: By, why: str) -> None:
    """End one for its session."""
    moved = appointed.fall_away(appointment, by=by, why=why.strip())
    trail(Act.SESSIONS_LOSE, appointment, by=by, patient_id=appointment.patient_id, changed=moved)
