"""Taking and giving up the slots of an appointment. The unique key of a seat decides a race, no question before it."""

from collections.abc import Iterable

from django.db import IntegrityError, transaction

from caseload.booking.slots import clock, slots_for
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Seat, Session, Slot
from caseload.wording.dates import say_date


def lock_session(session: Session, *others: int | None) -> None:
    """Sessions first, then episodes, then appointments, then slots, each by key: the one order in which acts lock.

    So a session cannot be called off between the look at it and the seat, and two appointments that change places
    (`others` are the keys of the sessions they leave) do not wait for each other. Raises Refusal `session-lost`.
    """
    lock_sessions([session], *others)


def lock_sessions(sessions: Iterable[Session], *others: int | None) -> None:
    """The same for several who are seated in one act."""
    wanted = {session.pk for session in sessions}
    both = wanted.union(key for key in others if key)
    found = Session.objects.select_for_update(no_key=True).filter(pk__in=both).order_by("pk")
    if not wanted <= {key for key, live in found.values_list("pk", "live") if live}:
        raise Refusal("session-lost", "This session is called off. Choose another.", field="slot")


def lock_episodes(ids: Iterable[int]) -> None:
    list(Episode.objects.select_for_update().filter(pk__in=ids).order_by("pk").values_list("pk", flat=True))


def take(appointment: Appointment, session: Session) -> None:
    """Seat an appointment in its session.

    Raises Refusal `no-room` where the session has no such slots, `slot-held`, or `slot-taken` with who has it.
    """
    slots = _slots(appointment, session)
    try:
        with transaction.atomic():
            Seat.objects.bulk_create(Seat(slot=slot, appointment=appointment) for slot in slots)
    except IntegrityError:
        raise _taken(slots, session) from None


def give_up(appointment: Appointment) -> None:
    Seat.objects.filter(appointment=appointment).delete()


def revive(appointment: Appointment) -> None:
    """Let an appointment serve its follow-ups again. Raises Refusal `booked-already` where one is booked elsewhere."""
    try:
        with transaction.atomic():
            appointment.purposes.update(live=True)
    except IntegrityError:
        raise Refusal("booked-already", "One of these follow-ups was booked meanwhile. Open the page again.") from None


def _slots(appointment: Appointment, session: Session) -> list[Slot]:
    start = appointment.start_minute or 0
    wanted = slots_for(start, appointment.minutes)
    slots = list(Slot.objects.filter(session=session, minute__in=wanted, live=True).order_by("pk"))
    if len(slots) < len(wanted):
        raise Refusal("no-room", f"From {clock(start)} this session has no room for {appointment.minutes} minutes. "
                      "Choose an earlier time or another session.", field="slot")  # fmt: skip
    held = next((slot for slot in slots if slot.held_why), None)
    if held:
        raise Refusal("slot-held", f"{clock(held.minute)} is held back: {held.held_why}. Release it first, or choose "
                      "another.", field="slot")  # fmt: skip
    return slots


def _taken(slots: list[Slot], session: Session) -> Refusal:
    """Who has the slot now, in words for staff."""
    seat = Seat.objects.filter(slot__in=slots).select_related("appointment__patient", "slot").order_by("slot").first()
    if seat is None:
        return Refusal("slot-taken", "This slot was taken a moment ago and is free again. Try once more.", field="slot")
    patient = seat.appointment.patient
    return Refusal(
        "slot-taken",
        f"{clock(seat.slot.minute)} on {say_date(session.on)} was taken meanwhile: "
        f"{patient.family.upper()}, {patient.given} has it. Choose another.",
        field="slot",
        holder=seat.appointment.code,
    )
