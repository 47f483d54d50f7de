"""What an appointment was before the last act on it, kept for the minutes in which that can be taken back."""

from datetime import date, datetime
from typing import Any, Final

from caseload.actions.act import By, plain
from caseload.models import Appointment, UndoStep

KEPT: Final = (
    "session_id", "site_id", "on", "start_minute", "minutes", "way", "outcome", "live", "arrived_at", "told",
    "untold_since_on", "interpreter_told", "approved_by", "approved_why", "ended_on", "ended_why",
)  # fmt: skip


def memento(appointment: Appointment) -> dict[str, Any]:
    """The appointment as plain JSON values."""
    return {name: plain(getattr(appointment, name)) for name in KEPT}


def remember(appointment: Appointment, before: dict[str, Any], *, by: By) -> None:
    """Keep `before` (empty: it was only just booked); acts of the planner itself are not taken back."""
    if by.staff is None:
        UndoStep.objects.filter(appointment=appointment).delete()
        return
    UndoStep.objects.update_or_create(
        appointment=appointment,
        defaults={"by": by.staff, "at": by.at, "version": appointment.version, "before": before},
    )


def restored(before: dict[str, Any]) -> dict[str, Any]:
    """The fields of a memento as values."""
    read = {"on": date.fromisoformat, "untold_since_on": date.fromisoformat, "ended_on": date.fromisoformat,
            "arrived_at": datetime.fromisoformat}  # fmt: skip
    return {name: read[name](value) if value and name in read else value for name, value in before.items()}
