"""One digit of a visit: held against how it stood, written down, and what goes on from there."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from caseload.actions import closing, episodes, findings, measurements, reviews
from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.measures.bodies import Body, write
from caseload.measures.terms import MeasureKind
from caseload.models import Episode, Examined, Finding, Measurement, Visit
from caseload.reads.marks import Seen, seen_of
from caseload.reads.timetables import hand_timetable
from caseload.timetable.terms import ActivityKind, AfterVisit, Ending, FindingKind
from caseload.wording import label

ENDINGS: Final = {AfterVisit.DISCHARGE: Ending.DISCHARGED, AfterVisit.REFER_BACK: Ending.REFERRED_BACK}
ONCE: Final = frozenset({FindingKind.STITCHES, FindingKind.WOUND})
"""One look says one thing of these."""


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


@contextmanager
def about(episode: Episode) -> Iterator[None]:
    """Let a refusal say which digit it is about."""
    try:
        yield
    except Refusal as refusal:
        refusal.details.setdefault("episode", episode.code)
        raise


def check(look: Look, on: date) -> None:
    """Before anything is written: the episode, which is locked, is as it was seen, and can have been looked at."""
    episode = look.episode
    episode.refresh_from_db(fields=["version", *closing.DECIDING])
    if episode.ended_on:
        raise Refusal("episode-closed", "This episode is closed. Open a new one for a new operation.")
    if look.seen is not None and seen_of(episode) != look.seen:
        raise Refusal("changed-meanwhile", "Somebody else recorded something of this finger while you were typing. "
                      "Read it, then save again.", row=episode, seen=look.seen)  # fmt: skip
    kinds = [said["kind"] for said in look.findings]
    if any(kinds.count(kind) > 1 for kind in ONCE):
        raise Refusal("said-twice", "One look says one thing of the stitches and one of the wound.")
    for body in look.measured.values():
        measurements.check(body, episode, on)


def found(visit: Visit, look: Look, by: By) -> None:
    """Write down the facts, findings and measures of one digit."""
    episode = look.episode
    if look.facts:
        episodes.correct(episode, by=by, version=None, **look.facts)
    common = {"visit": visit, "on": visit.on, "source": visit.source, "reported_by": visit.reported_by}
    if look.findings:
        findings.record_visit(episode, by=by, sayings=[common | dict(said) for said in look.findings])
    for body in look.measured.values():
        measurements.check_flagged(body, episode)
    Measurement.objects.bulk_create(
        Measurement(
            visit=visit, episode=episode, kind=kind, on=visit.on, body=write(body), by=by.person, recorded_at=by.at
        )
        for kind, body in look.measured.items()
    )


def check_started(look: Look, on: date) -> None:
    """Nothing begins whose gate is shut or whose day has not come, whoever says so: an instruction can move a day.

    Asked once everything of the visit is found and before anything of it is closed: a digit that goes holds the hand.
    """
    if not look.started:
        return
    if _found_later(look.episode, on):
        raise Refusal("found-later", "Stitches or wound of this hand were looked at again after that day. Say what may "
                      "begin in the latest visit.", field="started")  # fmt: skip
    known = {row.kind: row for row in hand_timetable(look.episode, today=on).activities}
    for kind in look.started:
        if kind not in known:
            raise Refusal("not-for-this-hand", f"{label(kind)} is not part of this timetable.", field="started")
        if locks := known[kind].locked_by(on):
            why = " and ".join(label(lock) for lock in locks)
            raise Refusal("locked", f"{label(kind)} cannot begin: {why}.", field="started", locks=locks)


def _found_later(episode: Episode, on: date) -> bool:
    """Whether a later day tells more of the hand than the visit knew."""
    same = Episode.objects.open().filter(patient=episode.patient_id, side=episode.side).exclude(side="")
    hand = [episode.pk, *same.values_list("pk", flat=True)]
    later = Finding.objects.standing().filter(episode__in=hand, kind__in=closing.OF_SURGERY, on__gt=on)
    return later.exists()


def go_on(visit: Visit, look: Look, by: By) -> None:
    """What is to happen next: a review, or the end of the episode."""
    episode, review = look.episode, None
    if look.after == AfterVisit.REVIEW:
        review = reviews.set_review(episode, by=by, on=visit.on, in_days=look.in_days or 0, minutes=look.minutes)
    received_by = look.received_by if look.after == AfterVisit.REFER_BACK else ""
    if look.after in ENDINGS:
        episodes.close(episode, by=by, version=None, how=ENDINGS[look.after], on=visit.on, received_by=received_by)
    Examined.objects.create(
        visit=visit, episode=episode, started=list(look.started), after=look.after, review=review,
        received_by=received_by,
    )  # fmt: skip
