"""Episodes: opened, corrected, moved to other rules, closed. Each act ends in settling what is derived."""

from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions import appointed
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.settle import settle
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Finding, Patient, RuleSet
from caseload.reads.facts import facts_of
from caseload.reads.rules import in_force
from caseload.timetable.evidence import read_evidence
from caseload.timetable.terms import Ending, FindingKind

FURTHEST_AHEAD = timedelta(days=365)
FACTS = (
    "referral", "site", "therapist", "surgeon", "surgery_on", "side", "digit", "technique", "suture", "stitches_in",
    "material", "dominant", "risks", "raised_risk", "for_therapy", "work", "notes",
)  # fmt: skip


@act(Act.EPISODE_OPEN)
def open_episode(patient: Patient, *, by: By, rules: RuleSet | None = None, **fields: Any) -> Episode:
    """Open an episode under the rules in force. Raises Refusal `episode-known` for a digit operated on that day."""
    episode = Episode(patient=patient, rules=rules or in_force(), recorded_at=by.at, recorded_on=by.today, **fields)
    check(episode, by.today)
    with _once(episode):
        episode.save()
    moved = settle(episode)
    trail(Act.EPISODE_OPEN, episode, by=by, patient_id=patient.pk, changed=moved)
    return episode


@act(Act.EPISODE_CORRECT)
def correct(episode: Episode, *, by: By, version: int | None, **changes: Any) -> Episode:
    """Correct facts; everything derived follows on the pinned rules, and what is done stays."""
    fresh(episode, version)
    with _once(episode):
        moved = apply(episode, changes)
    check(episode, by.today)
    _nothing_before_surgery(episode)
    trail(Act.EPISODE_CORRECT, episode, by=by, patient_id=episode.patient_id, changed=moved | settle(episode))
    return episode


@act(Act.EPISODE_MOVE_RULES)
def move_rules(episode: Episode, rules: RuleSet, *, by: By) -> Episode:
    """Pin the episode to another version of the rules."""
    fresh(episode, None)
    moved = apply(episode, {"rules": rules})
    trail(Act.EPISODE_MOVE_RULES, episode, by=by, patient_id=episode.patient_id, changed=moved | settle(episode))
    return episode


@act(Act.EPISODE_CLOSE)
def close(episode: Episode, *, by: By, version: int | None, how: Ending, on: date, received_by: str = "") -> Episode:
    """Close an episode: its appointments are cancelled, what is due is dropped, its clocks end.

    Raises Refusal `stitches-in` or `red-flag-open` for a discharge that would leave the patient unsafe.
    """
    fresh(episode, version)
    _may_close(episode, how, on, received_by, by)
    moved = apply(episode, {"ended_on": on, "ended_how": how, "received_by": received_by})
    _cancel_appointments(episode, by)
    trail(Act.EPISODE_CLOSE, episode, by=by, patient_id=episode.patient_id, changed=moved | settle(episode))
    return episode


def check(episode: Episode, today: date) -> None:
    """Refuse facts that cannot be: a surgery date too far ahead or before birth, more stitches than fit."""
    if episode.surgery_on is None:
        return
    if episode.surgery_on > today + FURTHEST_AHEAD:
        raise Refusal(
            "surgery-too-far", "The surgery date is more than a year ahead. Check the year.", field="surgery_on"
        )
    born_on = episode.patient.born_on
    if born_on and episode.surgery_on < born_on:
        raise Refusal(
            "surgery-before-birth",
            "The surgery date is before the patient was born. Check both dates.",
            field="surgery_on",
        )


def _nothing_before_surgery(episode: Episode) -> None:
    first = Finding.objects.standing().filter(episode=episode).order_by("on").first()
    if first and episode.surgery_on and first.on < episode.surgery_on:
        raise Refusal(
            "finding-before-surgery",
            f"A finding of {first.on:%d %b %Y} would then lie before the surgery. Correct that finding first.",
            field="surgery_on",
        )


class _once:
    """Turn the database's "this digit was operated on that day already" into a sentence."""

    def __init__(self, episode: Episode) -> None:
        self.episode = episode
        self.atomic = transaction.atomic()

    def __enter__(self) -> None:
        self.atomic.__enter__()

    def __exit__(self, kind: Any, error: Any, trace: Any) -> None:
        self.atomic.__exit__(kind, error, trace)
        if isinstance(error, IntegrityError) and "episode_once" in _constraint(error):
            raise Refusal(
                "episode-known",
                "This digit already has an episode with this surgery date. Open that one and correct it.",
                field="surgery_on",
            ) from None


def _constraint(error: IntegrityError) -> str:
    """PostgreSQL names the constraint; SQLite names its columns."""
    text = str(error)
    return "episode_once" if "caseload_episode.patient_id, caseload_episode.side" in text else text


def _may_close(episode: Episode, how: Ending, on: date, received_by: str, by: By) -> None:
    if episode.ended_on:
        raise Refusal("closed-already", "This episode is closed already.")
    if on > by.today:
        raise Refusal("closed-in-future", "An episode cannot be closed on a day to come.", field="on")
    if episode.surgery_on and on < episode.surgery_on and how not in (Ending.NOT_DONE, Ending.DIED):
        raise Refusal("closed-before-surgery", "An episode cannot be closed before its surgery.", field="on")
    if how in (Ending.TRANSFERRED, Ending.REFERRED_BACK) and not received_by.strip():
        raise Refusal("receiver-missing", "Name who takes over: a transfer needs a receiver.", field="received_by")
    if how == Ending.DISCHARGED:
        _may_discharge(episode, by)


def _may_discharge(episode: Episode, by: By) -> None:
    flags = Finding.objects.standing().filter(episode=episode, kind=FindingKind.RED_FLAG, closure__isnull=True)
    if flags.exists():
        raise Refusal("red-flag-open", "A red flag is open. Close it with its outcome before discharging.", field="how")
    evidence = read_evidence(facts_of([episode])[episode.pk])
    if evidence.to_remove and evidence.removal is None:
        raise Refusal(
            "stitches-in",
            "The stitches are not recorded out. Record their removal, or transfer to somebody who will see to it.",
            field="how",
        )


def _cancel_appointments(episode: Episode, by: By) -> None:
    """Cancel what only this episode needs; an appointment that also serves another episode stays for that one."""
    live = Appointment.objects.filter(purposes__follow_up__episode=episode, live=True, outcome="").distinct()
    for appointment in live:
        others = appointment.purposes.exclude(follow_up__episode=episode).filter(live=True)
        if others.exists():
            appointment.purposes.filter(follow_up__episode=episode).update(live=False)
            continue
        appointed.fall_away(appointment, by=by, why="episode closed")
