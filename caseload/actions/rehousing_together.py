"""Those who depend on each other through the places they give up are rehoused in one act: all of them, or nobody.

A patient whose session fell away can have a place that somebody else holds, if that one moves, and so on. Each such
chain is one transaction: everybody gives up their slots, then each is seated; what the diary has overtaken undoes all.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from caseload.access import Act
from caseload.actions import appointed, seats, undoing
from caseload.actions.act import By, act, apply, trail
from caseload.actions.bookable import check_not_early, check_place, check_purposes, check_start
from caseload.actions.in_step import keep_in_step
from caseload.actions.rehousing import is_to_rehouse, place_of
from caseload.actions.settle import settle_keys
from caseload.booking.clock import local_of
from caseload.booking.offers import is_inside
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Session
from caseload.reads.movable import need_to_move
from caseload.timetable.terms import Way

Served = Mapping[int, list[FollowUp]]
"""What each appointment is for, as stored now."""
Moved = dict[str, tuple[object, object]]


class Place(NamedTuple):
    """Where an appointment is to go. `left` are the session and the minute that somebody else gives up for it; None of
    one whose session was called off."""

    appointment: Appointment
    session: Session
    start: int
    left: tuple[int, int] | None = None


@act(Act.SESSIONS_LOSE)
def rehouse_together(places: Sequence[Place], *, by: By) -> Appointment:
    """Give each its place, or none of them; everybody is to be told. Gives back the first that is rehoused.

    Raises Refusal, which names whom it is about: `not-to-rehouse` of one who waits no more, `moved-meanwhile` of
    somebody else who is not where they were, `may-not-move`, `leaves-its-days`, and what booking raises.
    """
    seats.lock_sessions((each.session for each in places), *(each.appointment.session_id for each in places))
    served = _locked(places)
    for place in places:
        _check(place, served[place.appointment.pk], by)
    before = {each.appointment.pk: undoing.memento(each.appointment) for each in places if each.left}
    moved = _seated(places, served, by)
    for place in places:
        if place.left:
            undoing.remember(place.appointment, before[place.appointment.pk], by=by)
    _settled(places, served, moved, by)
    return next(each.appointment for each in places if not each.left)


def _locked(places: Iterable[Place]) -> Served:
    """Lock all episodes, then all appointments, each by key; what each of them is for."""
    rows = sorted((each.appointment for each in places), key=lambda row: row.pk)
    seats.lock_episodes(Purpose.objects.filter(appointment__in=rows).values_list("follow_up__episode", flat=True))
    for row in rows:
        appointed.lock_itself(row, None)
    return {row.pk: appointed.stored(purposes__appointment=row) for row in rows}


def _check(place: Place, rows: list[FollowUp], by: By) -> None:
    try:
        if place.left:
            _check_may_move(place, rows, by)
        elif not is_to_rehouse(place.appointment):
            raise Refusal("not-to-rehouse", "This appointment is not waiting for another place any more.")
        check_purposes(rows)
        check_place(rows, place.session, Way(place.appointment.way), by=by)
        check_start(place.session, place.start, by=by)
        check_not_early(rows, place.session.on, "", "")
    except Refusal as refusal:
        patient = place.appointment.patient
        raise Refusal(refusal.code, f"{patient.family.upper()}, {patient.given}: {refusal.message}") from None


def _check_may_move(place: Place, rows: list[FollowUp], by: By) -> None:
    """They are still where they were when it was proposed, may be moved, and stay inside their days."""
    appointment = place.appointment
    if (appointment.session_id, appointment.start_minute) != place.left or appointment.outcome:
        raise Refusal("moved-meanwhile", "This appointment is not where it was any more.")
    need = need_to_move(appointment, rows, local_of(by.at, place.session.site.zone)[0])
    if need is None:
        raise Refusal("may-not-move", "This appointment may not be moved for others any more.")
    if not is_inside(need, place.session.on):
        raise Refusal("leaves-its-days", "The new day lies outside the days of this appointment.")


def _seated(places: Sequence[Place], served: Served, by: By) -> dict[int, Moved]:
    """All give up their slots, and only then is each seated, in order of session and time."""
    for place in places:
        seats.give_up(place.appointment)
    moved = {}
    for place in sorted(places, key=lambda each: (each.session.pk, each.start)):
        row = place.appointment
        moved[row.pk] = apply(row, place_of(row, served[row.pk], place.session, place.start, by))
        if not place.left:
            seats.revive(row)
        seats.take(row, place.session)
    return moved


def _settled(places: Sequence[Place], served: Served, moved: Mapping[int, Moved], by: By) -> None:
    """Settle all episodes, keep all notices in step, and write the trail of each."""
    settled = settle_keys({row.episode_id for rows in served.values() for row in rows})
    keep_in_step((each.appointment.pk for each in places), by=by)
    for place in places:
        row, said = place.appointment, dict(moved[place.appointment.pk])
        for key in {each.episode_id for each in served[row.pk]}:
            said |= settled.get(key, {})
        name = Act.APPOINTMENT_MOVE if place.left else Act.SESSIONS_LOSE
        trail(name, row, by=by, patient_id=row.patient_id, changed=said)
