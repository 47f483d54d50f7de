"""Instructions: what the surgeon ordered for one item of one episode. They beat the rules."""

from typing import Any

from caseload.access import Act
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.settle import settle
from caseload.errors import Refusal
from caseload.models import Episode, Instruction
from caseload.timetable.terms import ActivityKind, FollowUpKind

ORDERED_FOLLOW_UPS = (
    FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK, FollowUpKind.THERAPY_REVIEW, FollowUpKind.OUTCOME_REVIEW,
    FollowUpKind.CLOSE,
)  # fmt: skip


@act(Act.INSTRUCTION_GIVE)
def give(episode: Episode, *, by: By, item: str, by_whom: str, why: str, **days: Any) -> Instruction:
    """Enter an instruction in place of an earlier one for the same item. `days` are those of models.Instruction."""
    fresh(episode, None)
    _check(episode, item, by_whom, why, days)
    standing = Instruction.objects.filter(episode=episode, item=item, withdrawn_at__isnull=True)
    standing.update(withdrawn_at=by.at, withdrawn_why="replaced by a later one")
    instruction = Instruction.objects.create(
        episode=episode, item=item, by_whom=by_whom, why=why, confirmed_for=episode.surgery_on,
        recorded_by=by.person, recorded_at=by.at, **days,
    )  # fmt: skip
    _settled(Act.INSTRUCTION_GIVE, instruction, by, {"item": ("", item)})
    return instruction


@act(Act.INSTRUCTION_CONFIRM)
def confirm(instruction: Instruction, *, by: By) -> Instruction:
    """Say that the instruction still holds after the surgery date was corrected."""
    fresh(instruction.episode, None)
    _standing(instruction)
    was = instruction.confirmed_for
    instruction.confirmed_for = instruction.episode.surgery_on
    instruction.save(update_fields=["confirmed_for"])
    _settled(Act.INSTRUCTION_CONFIRM, instruction, by, {"confirmed_for": (was, instruction.confirmed_for)})
    return instruction


@act(Act.INSTRUCTION_WITHDRAW)
def withdraw(instruction: Instruction, *, by: By, why: str) -> Instruction:
    """Say that an instruction holds no more, and why: who ordered otherwise, or what was mistaken."""
    fresh(instruction.episode, None)
    if not why.strip():
        raise Refusal("why-missing", "Say why the instruction is withdrawn.", field="why")
    _standing(instruction)
    instruction.withdrawn_at, instruction.withdrawn_why = by.at, why
    instruction.save(update_fields=["withdrawn_at", "withdrawn_why"])
    changed: dict[str, tuple[object, object]] = {"item": (instruction.item, ""), "withdrawn_why": ("", why)}
    _settled(Act.INSTRUCTION_WITHDRAW, instruction, by, changed)
    return instruction


def _standing(instruction: Instruction) -> None:
    """As stored: somebody else may have withdrawn or replaced it since it was read."""
    instruction.refresh_from_db(fields=["withdrawn_at", "confirmed_for"])
    if instruction.withdrawn_at:
        raise Refusal("withdrawn-already", "This instruction holds no more: it was withdrawn or replaced.")


def _check(episode: Episode, item: str, by_whom: str, why: str, days: dict[str, Any]) -> None:
    if episode.ended_on:
        raise Refusal("episode-closed", "This episode is closed.")
    if episode.surgery_on is None:
        raise Refusal("surgery-date-missing", "Days count from surgery: enter the surgery date first.", field="item")
    if not by_whom.strip() or not why.strip():
        raise Refusal("who-and-why", "An instruction needs who gave it and why.", field="by_whom")
    window = [days.get(name) for name in ("earliest", "target", "latest")]
    if item in ORDERED_FOLLOW_UPS:
        _check_window(window, days)
    elif item in list(ActivityKind):
        if any(day is not None for day in window) or (days.get("from_day") is None) == (not days.get("locked")):
            raise Refusal("one-thing", "For an activity give either the day it opens, or lock it.", field="from_day")
    else:
        raise Refusal("item-unknown", "Choose a follow-up or an activity.", field="item")


def _check_window(window: list[Any], days: dict[str, Any]) -> None:
    if days.get("locked") or days.get("from_day") is not None or None in window:
        raise Refusal("window-incomplete", "Give the earliest, target and latest day after surgery.", field="earliest")
    if window != sorted(window):
        raise Refusal("window-order", "The days must be in order: earliest, target, latest.", field="target")


def _settled(name: Act, instruction: Instruction, by: By, changed: dict[str, tuple[object, object]]) -> None:
    moved = settle(instruction.episode)
    trail(name, instruction, by=by, patient_id=instruction.episode.patient_id, changed=changed | moved)
