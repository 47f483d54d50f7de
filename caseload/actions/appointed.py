"""An appointment as an act finds it: locked, as it is stored now, with what it is for."""

from collections.abc import Iterable, Mapping
from typing import Any

from caseload.access import Act
from caseload.actions.act import By, apply, trail, unchanged
from caseload.actions.in_step import keep_in_step
from caseload.actions.seats import give_up, lock_episodes
from caseload.actions.settle import settle_keys
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Told
from caseload.timetable.terms import Outcome


def lock(appointment: Appointment, version: int | None) -> list[FollowUp]:
    """Lock the episodes that an appointment serves, then it; give back what it is for, as stored now.

    Raises Refusal `taken-back` where it is no more, and `changed-meanwhile`.
    """
    lock_episodes(appointment.purposes.values_list("follow_up__episode", flat=True))
    lock_itself(appointment, version)
    return stored(purposes__appointment=appointment)


def lock_itself(appointment: Appointment, version: int | None) -> None:
    """The same for whoever has locked the episodes that it serves before."""
    try:
        appointment.refresh_from_db(from_queryset=Appointment.objects.select_for_update())
    except Appointment.DoesNotExist:
        raise Refusal("taken-back", "This booking was taken back meanwhile. Open the page again.") from None
    unchanged(appointment, appointment.version, version)


def lock_open(appointment: Appointment, version: int | None) -> list[FollowUp]:
    """The same of one that has not ended. Raises Refusal `ended-already`."""
    rows = lock(appointment, version)
    if appointment.outcome:
        raise Refusal("ended-already", "The outcome of this appointment is recorded already.")
    return rows


def stored(**which: Any) -> list[FollowUp]:
    """Follow-ups with their patient, episode and site, read after the lock: what a page read before it may be old."""
    return list(FollowUp.objects.filter(**which).select_related("episode__site", "patient").order_by("pk"))


def fall_away(
    appointment: Appointment, *, by: By, why: str, told: Told = Told.UNTOLD
) -> dict[str, tuple[object, object]]:
    """The clinic cannot keep it: ended, its slots and follow-ups free again, the patient to be told unless `told`."""
    moved = apply(appointment, {
        "outcome": Outcome.CANCELLED_BY_CLINIC, "live": False, "ended_on": by.today, "ended_why": why, "told": told,
        "untold_since_on": by.today if told == Told.UNTOLD else None, "sequence": appointment.sequence + 1,
        "changed_at": by.at,
    })  # fmt: skip
    give_up(appointment)
    appointment.purposes.update(live=False)
    return moved


def settled(
    name: Act, appointment: Appointment, rows: Iterable[FollowUp], by: By, changed: Mapping[str, tuple[Any, Any]]
) -> None:
    """Settle the episodes of what an appointment is for, keep its notices in step, and write the trail."""
    said = dict(changed)
    for moved in settle_keys({row.episode_id for row in rows}).values():
        said |= moved
    if not appointment.walk_in:
        keep_in_step([appointment.pk], by=by)
    trail(name, appointment, by=by, patient_id=appointment.patient_id, changed=said)
