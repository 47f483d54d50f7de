"""A patient who is seen without an appointment."""

from collections.abc import Sequence

from caseload.access import Act
from caseload.actions import appointed, seats
from caseload.actions.act import By, act
from caseload.actions.bookable import check_purposes, length_of
from caseload.actions.reviews import BY_FINDING
from caseload.errors import Refusal
from caseload.models import Appointment, Completion, FollowUp, Purpose
from caseload.timetable.terms import Outcome


@act(Act.APPOINTMENT_WALK_IN)
def see(follow_ups: Sequence[FollowUp], *, by: By) -> Appointment:
    """Record a visit of today for some follow-ups. Those that no finding must complete are carried out with it.

    A removal and a re-check are done only by what is found: that is recorded beside it. Bookings that are not needed
    any more stay until somebody cancels them (`reads.needless`). Raises Refusal as booking does.
    """
    seats.lock_episodes(row.episode_id for row in follow_ups)
    rows = appointed.stored(pk__in=[row.pk for row in follow_ups])
    check_purposes(rows)
    if any(by.today < row.anchor_on and not row.provisional for row in rows):
        raise Refusal("done-day", "What these are counted from is still to come.", field="follow_ups")
    patient = rows[0].patient
    appointment = Appointment.objects.create(
        patient=patient, site_id=rows[0].episode.site_id, on=by.today, walk_in=True, outcome=Outcome.ATTENDED,
        minutes=length_of(rows, interpreter=patient.interpreter), booked_at=by.at, changed_at=by.at, arrived_at=by.at,
        ended_on=by.today,
    )  # fmt: skip
    Purpose.objects.bulk_create(Purpose(appointment=appointment, follow_up=row, live=False) for row in rows)
    ticked = [row for row in rows if row.kind not in BY_FINDING]
    Completion.objects.bulk_create(
        Completion(follow_up=row, on=by.today, by=by.person, recorded_at=by.at) for row in ticked
    )
    changed = {"on": (None, by.today), "for": ("", ", ".join(row.key for row in rows))}
    appointed.settled(Act.APPOINTMENT_WALK_IN, appointment, rows, by, changed)
    return appointment
