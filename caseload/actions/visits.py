"""Visits: everything that one look at a patient's operated digits found, taught and decided, in one act.

In the order in which it is carried out: who came; what was found; what was measured; what may begin, held against what
has just been found; what is to happen next. Everything is settled once, at the end, in the act's own transaction.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from caseload.access import Act
from caseload.actions import appointments, episodes, findings, measurements, reviews, walk_ins
from caseload.actions.act import By, act, trail
from caseload.actions.seats import lock_episodes
from caseload.actions.settle import together
from caseload.errors import Refusal
from caseload.measures.bodies import Body, write
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Episode, Examined, FollowUp, Measurement, Patient, SetReview, UndoStep, Visit
from caseload.reads.marks import Seen, seen_of
from caseload.reads.timetables import hand_timetable
from caseload.timetable.terms import ActivityKind, AfterVisit, Ending, Outcome, Source
from caseload.wording import label

ENDINGS = {AfterVisit.DISCHARGE: Ending.DISCHARGED, AfterVisit.REFER_BACK: Ending.REFERRED_BACK}


@dataclass(frozen=True, slots=True)
class Look:
    """What a visit says of one digit.

    `seen` is how the episode stood when typing began, None for no check; `facts` are corrections of the episode (its
    suture, the stitches put in); `findings` are as `findings.record` takes them, without day and source; `started` is
    what the patient may begin; `in_days` and `minutes` are for a review, `received_by` for referring back.
    """

    episode: Episode
    after: AfterVisit
    seen: Seen | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    findings: Sequence[Mapping[str, Any]] = ()
    measured: Mapping[MeasureKind, Body] = field(default_factory=dict)
    started: Sequence[ActivityKind] = ()
    in_days: int | None = None
    minutes: int = 20
    received_by: str = ""


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
    for what may not begin yet, and what findings, reviews and closing raise.
    """
    own = By(by.staff, by.at, by.today)
    _check(patient, looks, on, source, reported_by, by)
    with together():
        kept = _kept(appointment, version, looks, own)
        if kept is None:
            kept = _walked_in(meets, on, source, own)
        else:
            _complete(meets, on, source, own)
        visit = Visit.objects.create(
            patient=patient, appointment=kept, on=on, source=source, reported_by=reported_by, taught=taught,
            note=note, by=by.person, recorded_at=by.at, recorded_on=by.today,
        )  # fmt: skip
        for look in looks:
            with _about(look.episode):
                _found(visit, look, own)
        for look in looks:
            with _about(look.episode):
                _goes_on(visit, look, own)
        changed = {"on": (None, on), "taught": ("", taught)} if taught else {"on": (None, on)}
        trail(Act.VISIT_RECORD, visit, by=by, patient_id=patient.pk, changed=changed)
    return visit


@act(Act.VISIT_WITHDRAW)
def withdraw(visit: Visit, *, by: By, why: str) -> Visit:
    """Say that a visit was never so (the wrong person or hand): what hangs on it is withdrawn with it, and readable.

    What it closed stays closed, and its appointment stays as it ended: each has its own act.
    """
    if not why.strip():
        raise Refusal("why-missing", "Say why the visit is withdrawn.", field="why")
    own = By(by.staff, by.at, by.today)
    with together():
        lock_episodes(visit.examined.values_list("episode", flat=True))
        visit.refresh_from_db(from_queryset=Visit.objects.select_for_update())
        if visit.withdrawn_at:
            raise Refusal("withdrawn-already", "This visit is withdrawn already.")
        for finding in visit.findings.filter(corrected_by__isnull=True, withdraws=False):
            findings.withdraw(finding, by=own, why=why)
        for measurement in Measurement.objects.standing().filter(visit=visit):
            measurements.withdraw(measurement, by=own, why=why)
        for review in SetReview.objects.filter(examined__visit=visit, withdrawn_at__isnull=True):
            reviews.withdraw(review, by=own)
        visit.withdrawn_at, visit.withdrawn_why = by.at, why
        visit.save(update_fields=["withdrawn_at", "withdrawn_why"])
        changed = {"withdrawn_why": ("", why)}
        trail(Act.VISIT_WITHDRAW, visit, by=by, patient_id=visit.patient_id, changed=changed)
    return visit


@contextmanager
def _about(episode: Episode) -> Iterator[None]:
    """Let a refusal say which digit it is about."""
    try:
        yield
    except Refusal as refusal:
        refusal.details.setdefault("episode", episode.code)
        raise


def _check(patient: Patient, looks: Sequence[Look], on: date, source: Source, reported_by: str, by: By) -> None:
    if not looks or any(look.episode.patient_id != patient.pk for look in looks):
        raise Refusal("one-patient", "A visit is about the operated digits of one patient.")
    if on > by.today:
        raise Refusal("visit-in-future", "A visit cannot be dated after today.", field="on")
    if source is Source.REPORTED and not reported_by.strip():
        raise Refusal("reporter-missing", "Name the clinician who reported it.", field="reported_by")


def _kept(appointment: Appointment | None, version: int | None, looks: Sequence[Look], by: By) -> Appointment | None:
    """The appointment that this visit kept, recorded as attended; episodes are locked before it, in one order.

    From then on its outcome is not taken back with one press: a visit hangs on it.
    """
    served = appointment.purposes.values_list("follow_up__episode", flat=True) if appointment else ()
    lock_episodes({look.episode.pk for look in looks} | set(served))
    if appointment is None:
        return None
    appointment.refresh_from_db()
    if hasattr(appointment, "visit"):
        raise Refusal("recorded-already", "The visit of this appointment is recorded already. Correct what it found.")
    if not appointment.outcome:
        appointments.end(appointment, by=by, outcome=Outcome.ATTENDED, version=version)
    elif appointment.outcome != Outcome.ATTENDED:
        raise Refusal("not-attended", "This appointment ended otherwise. Record the visit as one without appointment.")
    UndoStep.objects.filter(appointment=appointment).delete()
    return appointment


def _walked_in(meets: Sequence[FollowUp], on: date, source: Source, by: By) -> Appointment | None:
    """Somebody who came today without an appointment; of another day, or from afar, only what was done is noted."""
    if meets and source is Source.SEEN and on == by.today:
        return walk_ins.see(meets, by=by)
    _complete(meets, on, source, by)
    return None


def _complete(meets: Sequence[FollowUp], on: date, source: Source, by: By) -> None:
    for follow_up in meets:
        if follow_up.in_person and source is not Source.SEEN:
            raise Refusal("needs-in-person", "This has to be seen in person: it is not done from afar.", field="meets")
        if follow_up.kind not in reviews.BY_FINDING:
            reviews.complete(follow_up, by=by, on=on)


def _found(visit: Visit, look: Look, by: By) -> None:
    """Hold the digit against what was seen of it, then write down its facts, findings and measures."""
    episode = look.episode
    if look.seen is not None and seen_of(episode) != look.seen:
        raise Refusal(
            "changed-meanwhile", "Somebody else recorded something of this digit while you were typing. Read it, "
            "then save again.", row=episode, seen=look.seen,
        )  # fmt: skip
    if look.facts:
        episodes.correct(episode, by=by, version=None, **look.facts)
    common = {"visit": visit, "on": visit.on, "source": visit.source, "reported_by": visit.reported_by}
    if look.findings:
        findings.record_visit(episode, by=by, sayings=[common | dict(said) for said in look.findings])
    Measurement.objects.bulk_create(
        Measurement(
            visit=visit, episode=episode, kind=kind, on=visit.on, body=write(body), by=by.person, recorded_at=by.at
        )
        for kind, body in look.measured.items()
    )


def _goes_on(visit: Visit, look: Look, by: By) -> None:
    """What may begin, and what is to happen next: both under what has just been found of every digit."""
    episode = look.episode
    _check_started(look, visit.on)
    review = None
    if look.after is AfterVisit.REVIEW:
        review = reviews.set_review(episode, by=by, on=visit.on, in_days=look.in_days or 0, minutes=look.minutes)
    Examined.objects.create(
        visit=visit, episode=episode, started=list(look.started), after=look.after, review=review,
        received_by=look.received_by,
    )  # fmt: skip
    if look.after in ENDINGS:
        episodes.close(episode, by=by, version=None, how=ENDINGS[look.after], on=visit.on, received_by=look.received_by)


def _check_started(look: Look, on: date) -> None:
    """Nothing begins whose gate is shut or whose day has not come, whoever says so: an instruction can move a day."""
    if not look.started:
        return
    known = {row.kind: row for row in hand_timetable(look.episode, today=on).activities}
    for kind in look.started:
        if kind not in known:
            raise Refusal("not-for-this-hand", f"{label(kind)} is not part of this timetable.", field="started")
        locks = known[kind].locked_by(on)
        if locks:
            why = " and ".join(label(lock) for lock in locks)
            raise Refusal("locked", f"{label(kind)} cannot begin: {why}.", field="started", locks=locks)
