"""Visits: everything that one look at a patient's operated digits found, taught and decided, in one act.

In the order in which it is carried out: who came; what was found; what was measured; what may begin, held against what
has just been found; what is to happen next. Everything is settled once, at the end, in the act's own transaction.
"""

from collections.abc import Sequence
from datetime import date

from caseload.access import Act
from caseload.actions import attending, closing, episodes, examining, findings, measurements, reviews
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.appointed import stored
from caseload.actions.examining import ENDINGS, Look, about
from caseload.actions.seats import lock_episodes
from caseload.actions.settle import settle, together
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, FollowUp, Measurement, Patient, Purpose, SetReview, TrailEntry, Visit
from caseload.timetable.terms import AfterVisit, Source

__all__ = ["Look", "record", "withdraw"]

CORRECTED = ("suture", "stitches_in")
"""Facts that a visit corrects."""


@act(Act.VISIT_RECORD)
def record(
    patient: Patient,
    *,
    by: By,
    on: date,
    looks: Sequence[Look],
    source: Source = Source.SEEN,
    reported_by: str = "",
    appointment: Appointment | None = None,
    version: int | None = None,
    meets: Sequence[FollowUp] = (),
    taught: str = "",
    note: str = "",
) -> Visit:
    """Record a visit. `appointment` is the one it kept, `meets` are follow-ups carried out at it besides.

    Raises Refusal with `episode` (a code) in its details where it is about one digit: `changed-meanwhile`, `locked`
    for what may not begin yet, and what findings, measurements, reviews and closing raise.
    """
    own = by.unkeyed
    visit = Visit(
        patient=patient, on=on, source=source, reported_by=reported_by, taught=taught, note=note, by=by.person,
        recorded_at=by.at, recorded_on=by.today,
    )  # fmt: skip
    _check(visit, looks)
    with together():
        rows = _lock(visit, looks, appointment, meets)
        for look in looks:
            with about(look.episode):
                examining.check(look, on)
        _who_came(visit, appointment, version, rows, own)
        _what_was_said(visit, looks, own)
        changed = {"on": (None, on)} | ({"taught": ("", taught)} if taught else {})
        trail(Act.VISIT_RECORD, visit, by=by, patient_id=patient.pk, changed=changed)
    return visit


@act(Act.VISIT_WITHDRAW)
def withdraw(visit: Visit, *, by: By, why: str) -> Visit:
    """Say that a visit was never so (the wrong person or hand): everything it brought about is withdrawn with it, and
    stays readable. What was cancelled when it closed an episode stays cancelled, and is on the booking list again.
    """
    if not why.strip():
        raise Refusal("why-missing", "Say why the visit is withdrawn.", field="why")
    own = by.unkeyed
    with together():
        _lock_again(visit)
        attending.unsay(visit, own)
        _unsay(visit, own, why)
        for episode in Episode.objects.filter(examined__visit=visit).order_by("pk"):
            _correct_back(visit, episode, own)
            _open_again(visit, episode, own)
        visit.withdrawn_at, visit.withdrawn_why = by.at, why
        visit.save(update_fields=["withdrawn_at", "withdrawn_why"])
        changed = {"withdrawn_why": ("", why)}
        trail(Act.VISIT_WITHDRAW, visit, by=by, patient_id=visit.patient_id, changed=changed)
    return visit


def _check(visit: Visit, looks: Sequence[Look]) -> None:
    if not looks or any(look.episode.patient_id != visit.patient_id for look in looks):
        raise Refusal("one-patient", "A visit is about the operated digits of one patient.")
    if len({look.episode.pk for look in looks}) < len(looks):
        raise Refusal("digit-twice", "A visit says of each digit once what was found.")
    if visit.on > visit.recorded_on:
        raise Refusal("visit-in-future", "A visit cannot be dated after today.", field="on")
    if visit.source == Source.REPORTED and not visit.reported_by.strip():
        raise Refusal("reporter-missing", "Name the clinician who reported it.", field="reported_by")


def _lock(
    visit: Visit, looks: Sequence[Look], appointment: Appointment | None, meets: Sequence[FollowUp]
) -> list[FollowUp]:
    """Lock every episode that the visit touches, in one order and before any appointment; `meets` as stored now."""
    served = appointment.purposes.values_list("follow_up__episode", flat=True) if appointment else ()
    lock_episodes({look.episode.pk for look in looks} | set(served) | {row.episode_id for row in meets})
    rows = stored(pk__in=[row.pk for row in meets])
    if any(row.patient_id != visit.patient_id for row in rows):
        raise Refusal("other-patient", "This is due for another patient. Open the page again.", field="meets")
    return rows


def _who_came(
    visit: Visit, appointment: Appointment | None, version: int | None, rows: Sequence[FollowUp], by: By
) -> None:
    if appointment is None:
        visit.appointment = attending.walk_in(rows, visit, by)
    else:
        visit.appointment = attending.keep(appointment, version, visit, by)
        attending.carry_out(rows, visit, by)
    visit.save()
    attending.sign(rows, visit)


def _what_was_said(visit: Visit, looks: Sequence[Look], by: By) -> None:
    """Each step for all digits before the next: what may begin depends on the whole hand."""
    for look in looks:
        with about(look.episode):
            examining.found(visit, look, by)
    for look in looks:
        with about(look.episode):
            examining.check_started(look, visit.on)
    for look in looks:
        with about(look.episode):
            examining.go_on(visit, look, by)


def _lock_again(visit: Visit) -> None:
    """Lock every episode that the visit touched, then it."""
    served = Purpose.objects.filter(appointment__visit=visit).values_list("follow_up__episode", flat=True)
    done = visit.completions.values_list("follow_up__episode", flat=True)
    lock_episodes({*visit.examined.values_list("episode", flat=True), *served, *done})
    visit.refresh_from_db(from_queryset=Visit.objects.select_for_update())
    if visit.withdrawn_at:
        raise Refusal("withdrawn-already", "This visit is withdrawn already.")


def _unsay(visit: Visit, by: By, why: str) -> None:
    """Withdraw what was found, measured and asked for, as it was corrected since."""
    for finding in list(visit.findings.standing()):
        findings.withdraw(finding, by=by, why=why)
    for measurement in list(Measurement.objects.standing().filter(visit=visit)):
        measurements.withdraw(measurement, by=by, why=why)
    for review in SetReview.objects.filter(examined__visit=visit, withdrawn_at__isnull=True):
        reviews.withdraw(review, by=by)


def _correct_back(visit: Visit, episode: Episode, by: By) -> None:
    """Give the episode the facts back that the visit corrected and nobody corrected since; the trail knows them."""
    entry = TrailEntry.objects.filter(
        act=Act.EPISODE_CORRECT, subject="episode", subject_id=episode.pk, at=visit.recorded_at, by=visit.by
    ).first()
    said = entry.changed if entry else {}
    own = {name: said[name] for name in CORRECTED if name in said}
    back = {name: was for name, (was, now) in own.items() if getattr(episode, name) == now}
    if back:
        episodes.correct(episode, by=by, version=None, **back)


def _open_again(visit: Visit, episode: Episode, by: By) -> None:
    """An episode that the visit closed is open again."""
    fresh(episode, None)
    episode.refresh_from_db(fields=closing.DECIDING)
    after = AfterVisit(visit.examined.get(episode=episode).after)
    if episode.ended_on == visit.on and episode.ended_how == ENDINGS.get(after):
        moved = closing.open_again(episode) | settle(episode)
        trail(Act.VISIT_WITHDRAW, episode, by=by, patient_id=episode.patient_id, changed=moved)
