"""The long work of a change of rules: counting what it would do, and moving the open episodes to a new version."""

from collections.abc import Iterator

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.episodes import move_rules
from caseload.actions.jobs import Steps, kind, reach
from caseload.actions.rule_changes import EFFECT, MOVE
from caseload.actions.turns import in_turn
from caseload.models import Episode, Job, RuleChange, RuleSet
from caseload.reads.timetables import timetables_under, with_sources
from caseload.timetable.effect import Effect
from caseload.timetable.rules import RuleSet as Rules
from caseload.wording.rules import say_counted, say_left, say_moved

COUNTED_AT_ONCE = 250
MOVED_AT_ONCE = 10
"""Each is an act of its own that is settled; a portion of them is one transaction."""


@kind(EFFECT)
def count_effect(job: Job) -> Steps:
    """Derive every open episode of the set under the copy; what comes of it stands at the copy."""
    change = RuleChange.objects.get(code=job.asked["change"])
    after, today = Rules.from_json(change.body), timezone.localdate(job.created_at)
    effect = Effect.from_json(job.reached["effect"]) if job.reached else Effect()
    portions = list(_portions(_of_set(change.base), job, COUNTED_AT_ONCE))
    for done, keys in enumerate(portions):
        yield done, len(portions)
        rows = list(with_sources(Episode.objects.filter(pk__in=keys).order_by("pk")))
        for before, under in timetables_under(rows, after):
            effect.count(before, under, today)
        reach(job, episode=keys[-1], effect=effect.to_json())
    kept = RuleChange.objects.filter(pk=change.pk, version=job.asked["version"], signed_at__isnull=True)
    fits = kept.update(effect=effect.to_json(), effect_at=job.created_at)
    return say_counted(effect.looked_at, effect.moved, fits=bool(fits))


def _left(job: Job) -> str:
    return say_left(job.reached.get("moved", 0))


@kind(MOVE, leaves=_left)
def move_open(job: Job) -> Steps:
    """Move what is open and not there yet, so that two runs, or a person beside them, move each episode once."""
    to = RuleSet.objects.get(pk=job.asked["rules"])
    moved = job.reached.get("moved", 0)
    portions = list(_portions(_of_set(to).exclude(rules=to), job, MOVED_AT_ONCE))
    for done, keys in enumerate(portions):
        yield done, len(portions)
        with in_turn(), transaction.atomic():
            moved += _move(keys, to, _by(job))
            reach(job, episode=keys[-1], moved=moved)
    return say_moved(moved, str(to))


def _move(keys: list[int], to: RuleSet, by: By) -> int:
    rows = Episode.objects.open().filter(pk__in=keys).exclude(rules=to).order_by("pk")
    found = list(rows.select_for_update(no_key=True))
    for episode in found:
        move_rules(episode, to, by=by)
    return len(found)


def _of_set(rules: RuleSet) -> QuerySet[Episode]:
    return Episode.objects.open().filter(rules__name=rules.name)


def _portions(episodes: QuerySet[Episode], job: Job, size: int) -> Iterator[list[int]]:
    """Keys in portions, from where an earlier run of the same work got to."""
    left = episodes.filter(pk__gt=job.reached.get("episode", 0)).order_by("pk")
    keys = list(left.values_list("pk", flat=True))
    return (keys[start : start + size] for start in range(0, len(keys), size))


def _by(job: Job) -> By:
    return By(job.by, job.created_at, timezone.localdate(job.created_at), origin=f"job {job.code}")
