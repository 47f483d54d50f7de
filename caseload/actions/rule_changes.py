"""Rules changed by the lead: a copy, what it would do, a second signature, a new version; then who is moved to it.

Nothing changes silently: a version in force is never edited, open episodes keep the version they were opened under
until somebody moves them, and no version comes into force on one person's word.
"""

from collections.abc import Mapping
from datetime import date
from typing import Final, NamedTuple

from django.utils import timezone

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.service import load_rules
from caseload.errors import Refusal
from caseload.models import Job, RuleChange, RuleSet, Staff
from caseload.reads.rules import next_version, rules_of
from caseload.timetable.rules import RuleSet as Rules
from caseload.timetable.versions import counts, revised, sourced
from caseload.wording.rules import say_surgeon

EFFECT: Final = "rules-effect"
MOVE: Final = "rules-move"


class Surgeon(NamedTuple):
    """A surgeon who signed elsewhere: who, how, and on which day."""

    name: str
    how: str
    on: date


@act(Act.RULES_CHANGE)
def propose(base: RuleSet, *, by: By, why: str) -> RuleChange:
    """Begin a copy of rules that are in force. Raises Refusal `why-missing` or `rules-retired`."""
    if not why.strip():
        raise Refusal("why-missing", "Say why the rules should change.", field="why")
    if base.retired_at or not base.signed_at:
        raise Refusal("rules-retired", "These rules are not in force any more. Change those that are.")
    change = RuleChange.objects.create(
        base=base, body=base.body, why=why.strip(), proposed_by=by.person, proposed_at=by.at
    )
    trail(Act.RULES_CHANGE, change, by=by, patient_id=None, changed={"rules": (None, str(base)), "reason": ("", why)})
    return change


@act(Act.RULES_CHANGE)
def change_counts(change: RuleChange, *, by: By, version: int | None, numbers: Mapping[str, int | None]) -> RuleChange:
    """Change counts of a copy, by place. What it would do has to be counted anew.

    Raises Refusal `change-over`, `changed-meanwhile`, and what reading rules raises: `unreadable`, `unsound-rules`.
    """
    _open(change, version)
    before = Rules.from_json(change.body)
    after = revised(before, numbers, before.version)
    change.body, change.effect, change.effect_at = after.to_json(), None, None
    change.version += 1
    change.save(update_fields=["body", "effect", "effect_at", "version"])
    trail(Act.RULES_CHANGE, change, by=by, patient_id=None, changed=_differences(before, after))
    return change


@act(Act.RULES_WITHDRAW)
def withdraw(change: RuleChange, *, by: By, version: int | None = None) -> RuleChange:
    """Give a copy up. Raises Refusal `change-over`."""
    _open(change, version)
    change.withdrawn_at, change.version = by.at, change.version + 1
    change.save(update_fields=["withdrawn_at", "version"])
    trail(Act.RULES_WITHDRAW, change, by=by, patient_id=None, changed={"rules": (str(change.base), None)})
    return change


@act(Act.RULES_SIGN)
def sign(change: RuleChange, *, by: By, version: int | None, surgeon: Surgeon | None = None) -> RuleChange:
    """Put the copy in force as the next version, signed by two.

    A lead who did not propose it signs as the second by doing this while signed in; or a lead, whoever proposed it too,
    enters the surgeon who signed. New episodes are opened under it; open ones stay where they are until they are moved.

    Raises Refusal `change-over`, `changed-meanwhile`, `nothing-changed`, `effect-missing`, `second-missing`,
    `signed-in-future` or `rules-retired` where another version has come into force since.
    """
    _open(change, version)
    base = RuleSet.objects.select_for_update(no_key=True).get(pk=change.base_id)
    after = _ready(change, base, by)
    second, second_name = _second(change, by, surgeon)
    signed_by = f"{change.proposed_by.name} and {second.name if second else second_name}"
    signed_by += f"; entered by {by.person.name}" if surgeon else ""
    after = sourced(rules_of(base), revised(after, {}, next_version(base.name), signed_by), change.why)
    change.made = load_rules(after, by=by)
    change.second, change.second_name, change.signed_at = second, second_name, by.at
    change.version += 1
    change.save(update_fields=["made", "second", "second_name", "signed_at", "version"])
    changed = _differences(rules_of(base), after) | {"rules": (str(base), str(change.made))}
    changed["signed_by"] = (None, signed_by)
    trail(Act.RULES_SIGN, change, by=by, patient_id=None, changed=changed)
    return change


@act(Act.RULES_CHANGE)
def ask_effect(change: RuleChange, *, by: By) -> Job:
    """Have counted what the copy would do, which holds for that day. Raises Refusal `change-over`."""
    _open(change, None)
    job = jobs.ask(EFFECT, by=by, change=change.code, version=change.version)
    trail(Act.RULES_CHANGE, job, by=by, patient_id=None, changed={"rules": (None, str(change.base))})
    return job


@act(Act.EPISODE_MOVE_RULES)
def ask_move(rules: RuleSet, *, by: By) -> Job:
    """Have every open episode under an earlier version moved to this one. Raises Refusal `rules-retired`."""
    if rules.retired_at or not rules.signed_at:
        raise Refusal("rules-retired", "These rules are not in force any more. Move episodes to those that are.")
    job = jobs.ask(MOVE, by=by, rules=rules.pk)
    trail(Act.EPISODE_MOVE_RULES, job, by=by, patient_id=None, changed={"rules": (None, str(rules))})
    return job


def counted_today(change: RuleChange, by: By) -> bool:
    """Whether what the copy would do was counted on the day itself: every day makes other episodes late."""
    return change.effect_at is not None and timezone.localdate(change.effect_at) == by.today


def _open(change: RuleChange, version: int | None) -> None:
    """Lock a copy that nobody has signed or given up."""
    fresh(change, version)
    change.refresh_from_db()
    if change.signed_at or change.withdrawn_at:
        raise Refusal("change-over", "This change was signed or withdrawn already. Propose another one.")


def _ready(change: RuleChange, base: RuleSet, by: By) -> Rules:
    after = Rules.from_json(change.body)
    if base.retired_at:
        raise Refusal("rules-retired", "Another version came into force since this was proposed. Propose it anew.")
    if not _differences(rules_of(base), after):
        raise Refusal("nothing-changed", "Nothing differs from the rules in force. Change a number first.")
    if not counted_today(change, by):
        raise Refusal("effect-missing", "Have counted first, today, what this change would do.")
    return after


def _second(change: RuleChange, by: By, surgeon: Surgeon | None) -> tuple[Staff | None, str]:
    """Who signs beside whoever proposed it: the lead who does so now, or the surgeon whom they name."""
    if surgeon and surgeon.on > by.today:
        raise Refusal("signed-in-future", "Nobody has signed after today. Check the day.", field="on")
    if surgeon:
        return None, say_surgeon(*surgeon)
    if by.person.pk == change.proposed_by_id:
        raise Refusal("second-missing", "You proposed this, so somebody else signs: another lead who is signed in, or "
                      "a surgeon whom you name here.", field="surgeon")  # fmt: skip
    return by.person, ""


def _differences(before: Rules, after: Rules) -> dict[str, tuple[object, object]]:
    """Every count of a copy that differs, by its place and its rule."""
    return {
        f"{was.place} ({was.kind})" if was.kind else was.place: (was.value, now.value)
        for was, now in zip(counts(before), counts(after), strict=True)
        if was.value != now.value
    }
