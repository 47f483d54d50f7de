"""Who came: the appointment that a visit kept or the walk-in that it is, and the follow-ups carried out at it."""

from collections.abc import Sequence

from caseload.access import Act
from caseload.actions import appointed, appointments, reviews, walk_ins
from caseload.actions.act import By, apply, trail
from caseload.actions.in_step import keep_in_step
from caseload.actions.settle import settle_keys
from caseload.errors import Refusal
from caseload.models import Appointment, Completion, FollowUp, UndoStep, Visit
from caseload.timetable.terms import Outcome, Source, Way
from caseload.wording import label, say_date


def keep(appointment: Appointment, version: int | None, visit: Visit, by: By) -> Appointment:
    """The appointment recorded as attended, where it can be the one of this visit, which is not saved yet.

    From then on its outcome is not taken back with one press: a visit hangs on it.
    """
    appointed.lock_itself(appointment, version)
    _belongs(appointment, visit)
    if not appointment.outcome:
        appointments.end(appointment, by=by, outcome=Outcome.ATTENDED)
    elif appointment.outcome != Outcome.ATTENDED:
        raise Refusal("not-attended", "This appointment ended otherwise. Record the visit as one without appointment.")
    UndoStep.objects.filter(appointment=appointment).delete()
    return appointment


def _belongs(appointment: Appointment, visit: Visit) -> None:
    if appointment.patient_id != visit.patient_id:
        raise Refusal("other-patient", "This appointment is another patient's. Open the visit from their own page.")
    if appointment.on != visit.on:
        raise Refusal("other-day", f"This appointment is of {say_date(appointment.on)}. Give the visit that day, or "
                      "record it as one without appointment.", field="on")  # fmt: skip
    if appointment.way != Way.IN_PERSON and visit.source == Source.SEEN:
        raise Refusal("not-in-person", f"This appointment was {label(Way(appointment.way))}, so nothing was seen here. "
                      "Say where it comes from.", field="source")  # fmt: skip
    if Visit.objects.filter(appointment=appointment).exists():
        raise Refusal("recorded-already", "The visit of this appointment is recorded already. Correct what it found.")


def walk_in(rows: Sequence[FollowUp], visit: Visit, by: By) -> Appointment | None:
    """Somebody who came today without an appointment; of another day, or from afar, only what was done is noted."""
    if rows and visit.source == Source.SEEN and visit.on == by.today:
        return walk_ins.see(rows, by=by)
    carry_out(rows, visit, by)
    return None


def carry_out(rows: Sequence[FollowUp], visit: Visit, by: By) -> None:
    """Complete what no finding has to; a removal and a re-check are done by what is found."""
    for follow_up in rows:
        if follow_up.kind in reviews.BY_FINDING:
            continue
        if follow_up.in_person and visit.source != Source.SEEN:
            raise Refusal("needs-in-person", "This has to be seen in person: it is not done from afar.", field="meets")
        reviews.complete(follow_up, by=by, on=visit.on)


def sign(rows: Sequence[FollowUp], visit: Visit) -> None:
    """Say of what was carried out at which visit it was."""
    Completion.objects.filter(follow_up__in=rows, visit=None).update(visit=visit)


def unsay(visit: Visit, by: By) -> None:
    """The visit was never so: what it carried out is due again, the walk-in it made goes, and an appointment that it
    recorded as attended has no outcome yet.
    """
    done = Completion.objects.filter(visit=visit)
    touched = set(done.values_list("follow_up__episode", flat=True))
    done.delete()
    appointment, visit.appointment = visit.appointment, None
    visit.save(update_fields=["appointment"])
    if appointment is not None:
        touched |= set(appointment.purposes.values_list("follow_up__episode", flat=True))
        _take_back(appointment, visit, by)
    settle_keys(touched)


def _take_back(appointment: Appointment, visit: Visit, by: By) -> None:
    """Only what this visit wrote, which bears its instant: attendance that was recorded before it stays."""
    key, was = appointment.pk, appointment.outcome
    if appointment.walk_in and appointment.booked_at == visit.recorded_at:
        appointment.delete()
        appointment.pk = key
    elif appointment.changed_at == visit.recorded_at and _is_wanted(appointment):
        apply(appointment, {"outcome": "", "ended_on": None, "ended_why": "", "changed_at": by.at})
        free = FollowUp.objects.exclude(purposes__live=True).filter(episode__ended_on=None)
        appointment.purposes.filter(follow_up__in=free).update(live=True)
        keep_in_step([key], by=by)
    else:
        return
    changed = {"outcome": (was, "")}
    trail(Act.VISIT_WITHDRAW, appointment, by=by, patient_id=appointment.patient_id, changed=changed)


def _is_wanted(appointment: Appointment) -> bool:
    return appointment.purposes.filter(follow_up__episode__ended_on=None).exists()
