"""Slots kept back from offers, and given free again."""

from collections.abc import Iterable

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.booking.slots import clock
from caseload.errors import Refusal
from caseload.models import Session, Slot
from caseload.wording.dates import say_date


@act(Act.SLOTS_HOLD)
def hold(slots: Iterable[Slot], *, by: By, why: str) -> None:
    """Keep free slots of one session back. Raises Refusal `why-missing` or `slot-taken`."""
    if not why.strip():
        raise Refusal("why-missing", "Say what the slot is kept for.", field="why")
    rows = _locked(slots)
    taken = next((slot for slot in rows if hasattr(slot, "seat")), None)
    if taken:
        raise Refusal("slot-taken", f"{clock(taken.minute)} on {say_date(taken.on)} is booked. Move that appointment "
                      "first.", field="why")  # fmt: skip
    _set(rows, why.strip(), by)


@act(Act.SLOTS_HOLD)
def release(slots: Iterable[Slot], *, by: By) -> None:
    """Offer held slots again."""
    _set(_locked(slots), "", by)


def _locked(slots: Iterable[Slot]) -> list[Slot]:
    """The slots as stored, after their session: the order in which acts lock. Refuses those that are not there now."""
    asked = list(slots)
    list(Session.objects.select_for_update(no_key=True).filter(pk__in={slot.session_id for slot in asked}).values("pk"))
    rows = Slot.objects.filter(pk__in=[slot.pk for slot in asked], live=True).select_related("seat").order_by("pk")
    found = list(rows)
    if not found or len(found) < len(asked):
        raise Refusal("session-lost", "This session does not take place as it did. Open the page again.")
    return found


def _set(rows: list[Slot], why: str, by: By) -> None:
    for slot in rows:
        was, slot.held_why = slot.held_why, why
        slot.save(update_fields=["held_why"])
        trail(Act.SLOTS_HOLD, slot, by=by, patient_id=None, changed={"held_why": (was, why)})
