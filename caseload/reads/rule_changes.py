"""Changes of rules as a lead looks at them: which there are, what one would do, who is under which version."""

from collections import Counter
from collections.abc import Mapping
from typing import Any, NamedTuple

from django.db.models import Count, Q

from caseload.models import Episode, RuleChange, RuleSet
from caseload.reads.reach import Reader, seen_by
from caseload.timetable.effect import Effect, Farthest
from caseload.timetable.terms import ActivityKind, FollowUpKind


class Moved(NamedTuple):
    """Follow-ups of one kind whose targets move by so many days."""

    kind: FollowUpKind
    days: int
    many: int


class Far(NamedTuple):
    """A follow-up that would move farthest; without its episode where the patient is somebody else's."""

    episode: Episode | None
    kind: FollowUpKind
    days: int


class EffectSaid(NamedTuple):
    """What a change would do, in rows: targets by kind and days, what is added, dropped, opens otherwise or locks."""

    sums: Effect
    days: list[Moved]
    added: list[tuple[FollowUpKind, int]]
    dropped: list[tuple[FollowUpKind, int]]
    activities: list[tuple[ActivityKind, int]]
    locks: list[tuple[ActivityKind, int]]
    farthest: list[Far]


def effect_said(body: Mapping[str, Any], reader: Reader) -> EffectSaid:
    sums = Effect.from_json(body)
    days = [Moved(FollowUpKind(kind), *each) for kind, found in sums.days.items() for each in sorted(found.items())]
    return EffectSaid(
        sums, days, _follow_ups(sums.added), _follow_ups(sums.dropped), _activities(sums.activities),
        _activities(sums.locks), _named(sums.farthest, reader),
    )  # fmt: skip


def changes_of(rules: RuleSet) -> list[RuleChange]:
    """Every change of a set, of whatever version, the latest first."""
    rows = RuleChange.objects.filter(base__name=rules.name)
    return list(rows.select_related("base", "proposed_by", "second", "made"))


def open_under(rules: RuleSet) -> dict[str, int]:
    """How many open episodes each version of a set has, by version."""
    rows = RuleSet.objects.filter(name=rules.name).annotate(open=Count("episodes", Q(episodes__ended_on__isnull=True)))
    return {row.version: row.open for row in rows.order_by("id")}


def newer_than(rules: RuleSet) -> RuleSet | None:
    """The version in force of the same set, if it is another one."""
    found = RuleSet.objects.filter(name=rules.name, signed_at__isnull=False, retired_at__isnull=True)
    return found.exclude(pk=rules.pk).first()


def to_move(rules: RuleSet) -> int:
    """How many open episodes are under another version of this set."""
    return Episode.objects.open().filter(rules__name=rules.name).exclude(rules=rules).count()


def _named(farthest: list[Farthest], reader: Reader) -> list[Far]:
    """Whose episodes they are, for the reader to look them up before anybody signs."""
    rows = Episode.objects.filter(code__in=[each.episode for each in farthest]).select_related("patient")
    seen = {row.code: row for row in seen_by(reader, rows)}
    return [Far(seen.get(each.episode), FollowUpKind(each.kind), each.days) for each in farthest]


def _follow_ups(found: Counter[str]) -> list[tuple[FollowUpKind, int]]:
    return [(FollowUpKind(kind), count) for kind, count in sorted(found.items())]


def _activities(found: Counter[str]) -> list[tuple[ActivityKind, int]]:
    return [(ActivityKind(kind), count) for kind, count in sorted(found.items())]
