"""Episodes: opened, corrected, moved to other rules, closed. Each act ends in settling what is derived."""

from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction

from caseload.access import Act, demand
from caseload.actions import closing
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.seats import lock_episodes
from caseload.actions.settle import settle
from caseload.errors import Refusal
from caseload.models import Episode, Finding, Patient, RuleSet
from caseload.reads.rules import in_force
from caseload.timetable.terms import Ending, FindingKind, Source, Suture

FURTHEST_AHEAD = timedelta(days=365)
FACTS = (
    "referral", "site", "therapist", "surgeon", "surgery_on", "side", "digit", "technique", "suture", "stitches_in",
    "material", "dominant", "risks", "raised_risk", "for_therapy", "work", "notes", "arrived_on",
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
    """Correct facts; everything derived follows on the pinned rules, and what is done stays.

    A discharge that the facts, as they are now known, would not have allowed is taken back.
    """
    fresh(episode, version)
    with _once(episode):
        moved = apply(episode, changes)
    check(episode, by.today)
    _fits_findings(episode)
    moved |= closing.hold_to_discharge(episode)
    trail(Act.EPISODE_CORRECT, episode, by=by, patient_id=episode.patient_id, changed=moved | settle(episode))
    return episode


@act(Act.EPISODE_MOVE_RULES)
def move_rules(episode: Episode, rules: RuleSet, *, by: By, version: int | None = None) -> Episode:
    """Pin the episode to another version of the rules."""
    fresh(episode, version)
    moved = apply(episode, {"rules": rules})
    trail(Act.EPISODE_MOVE_RULES, episode, by=by, patient_id=episode.patient_id, changed=moved | settle(episode))
    return episode


@act(Act.EPISODE_CLOSE)
def close(episode: Episode, *, by: By, version: int | None, how: Ending, on: date, received_by: str = "") -> Episode:
    """Close an episode: its appointments are cancelled, what is due is dropped, its clocks end.

    A patient who died has all that is open closed at once. Raises Refusal `stitches-in` or `red-flag-open` for a
    discharge that would leave the patient unsafe, `reoperation-opens` where `reoperate` has to open the next one.
    """
    if how in (Ending.DIED, Ending.REOPERATION):
        lock_episodes(episode.patient.episodes.open().values_list("pk", flat=True))
    fresh(episode, version)
    closing.may_close(episode, how, on, received_by, by)
    if how == Ending.REOPERATION:
        closing.link_successor(episode, by=by)
    closing.end(episode, how, on, received_by, by=by)
    if how == Ending.DIED:
        closing.end_with_life(episode.patient, on, by=by)
    return episode


@act(Act.EPISODE_REOPEN)
def reopen(episode: Episode, *, by: By, version: int | None, why: str) -> Episode:
    """An episode that was closed by mistake is open again: what it asks for is due, and nothing that was cancelled for
    it comes back. If the patient was said to have died, all that was closed with it is open again.

    Raises Refusal `why-missing`, `not-closed`, or `operated-again` where a later episode goes on from it.
    """
    if not why.strip():
        raise Refusal("why-missing", "Say why it is open again.", field="why")
    lock_episodes(episode.patient.episodes.values_list("pk", flat=True))
    fresh(episode, version)
    closing.may_reopen(episode)
    if episode.ended_how == Ending.DIED:
        closing.take_death_back(episode.patient, why.strip(), by=by)
    else:
        closing.take_back(episode, why.strip(), by=by)
    return episode


@act(Act.EPISODE_REOPERATE)
def reoperate(old: Episode, *, by: By, version: int | None, on: date, **facts: Any) -> Episode:
    """The same digit was operated on again: open its new episode with `facts` and close the old one on `on`, in one
    transaction, so that the patient is never without either. `version` is that of the old one.

    Raises Refusal `reoperation-to-come` for an operation that is only planned, and what opening and closing raise.
    """
    demand(by.roles, Act.EPISODE_OPEN)
    demand(by.roles, Act.EPISODE_CLOSE)
    fresh(old, version)
    old.refresh_from_db(fields=closing.DECIDING)
    _check_again(old, facts, by.today)
    closing.may_close(old, Ending.REOPERATION, on, "", by)
    own = by.unkeyed
    episode = open_episode(old.patient, by=own, reoperation_of=old, **facts)
    closing.end(old, Ending.REOPERATION, on, "", by=own)
    changed = {"reoperation_of": (None, old)}
    trail(Act.EPISODE_REOPERATE, episode, by=by, patient_id=old.patient_id, changed=changed)
    return episode


def _check_again(old: Episode, facts: dict[str, Any], today: date) -> None:
    """It is the same digit, operated on later, and not to come: what is only planned does not end what is due now."""
    for field, name in (("side", "hand"), ("digit", "finger")):
        if getattr(old, field) and facts.get(field) != getattr(old, field):
            raise Refusal("other-digit", f"A second operation is on the same {name}. Correct the earlier episode, or "
                          "open one of its own for another.", field=field)  # fmt: skip
    surgery_on = facts.get("surgery_on")
    if surgery_on and surgery_on > today:
        raise Refusal("reoperation-to-come", "This operation is still to come. The earlier episode stays open until "
                      "it is done: open the new one then.", field="surgery_on")  # fmt: skip
    if surgery_on and old.surgery_on and surgery_on < old.surgery_on:
        raise Refusal("reoperation-before", "The second operation cannot come before the first. Check the date.",
                      field="surgery_on")  # fmt: skip


def check(episode: Episode, today: date) -> None:
    """Refuse facts that cannot be: a surgery date too far ahead or before birth, an arrival to come or before it."""
    _check_arrival(episode, today)
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


def _check_arrival(episode: Episode, today: date) -> None:
    if episode.arrived_on and episode.arrived_on > today:
        raise Refusal("arrived-in-future", "Nobody is transferred in after today. Check the date.", field="arrived_on")
    if episode.arrived_on and episode.surgery_on and episode.arrived_on < episode.surgery_on:
        raise Refusal("arrived-before-surgery", "Who is transferred in was operated on before. Check both dates.",
                      field="arrived_on")  # fmt: skip


def _fits_findings(episode: Episode) -> None:
    """Refuse facts that what was found speaks against."""
    found = Finding.objects.standing().filter(episode=episode)
    first = found.order_by("on").first()
    if first and episode.surgery_on and first.on < episode.surgery_on:
        raise Refusal(
            "finding-before-surgery",
            f"A finding of {first.on:%d %b %Y} would then lie before the surgery. Correct that finding first.",
            field="surgery_on",
        )
    stitches = found.filter(kind=FindingKind.STITCHES).exclude(source=Source.PATIENT)
    if episode.suture == Suture.NONE and stitches.exists():
        raise Refusal("stitches-recorded", "Stitches were recorded as taken out, so some were put in. Withdraw that "
                      "finding first if it was never so.", field="suture")  # fmt: skip


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
                "This finger already has an episode with this surgery date. Open that one and correct it.",
                field="surgery_on",
            ) from None


def _constraint(error: IntegrityError) -> str:
    """PostgreSQL names the constraint; SQLite names its columns."""
    text = str(error)
    return "episode_once" if "caseload_episode.patient_id, caseload_episode.side" in text else text
