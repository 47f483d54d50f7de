"""What somebody saw of an episode before they began to type, and what was recorded of it since."""

from collections.abc import Iterable
from typing import NamedTuple

from django.db.models import OuterRef, Subquery

from caseload.models import Episode, Examined, Finding, Instruction


class Seen(NamedTuple):
    """The version of the facts, and the last finding, examination and instruction that were there; 0 for none."""

    version: int
    finding: int
    examined: int
    instruction: int

    @classmethod
    def read(cls, text: str) -> "Seen | None":
        """From `str(seen)`; None for anything else."""
        parts = text.split("-")
        if len(parts) != len(cls._fields) or not all(part.isdecimal() and len(part) < 19 for part in parts):
            return None
        return cls(*map(int, parts))

    def __str__(self) -> str:
        return "-".join(map(str, self))


class Since(NamedTuple):
    """What came after a mark: findings and instructions, and whether the facts were corrected."""

    findings: list[Finding]
    instructions: list[Instruction]
    corrected: bool


def seen_of(episode: Episode) -> Seen:
    """How the episode stands now, in one query."""
    last = (
        Subquery(model.objects.filter(episode=OuterRef("pk")).order_by("-pk").values("pk")[:1]) for model in _MODELS
    )
    return Seen(*(key or 0 for key in Episode.objects.values_list("version", *last).get(pk=episode.pk)))


def since(episode: Episode, seen: Seen) -> Since:
    """What was recorded after `seen`, in the order of recording."""
    findings = Finding.objects.filter(episode=episode, pk__gt=seen.finding).select_related("by")
    given = Instruction.objects.filter(episode=episode, pk__gt=seen.instruction).select_related("recorded_by")
    return Since(_ordered(findings), _ordered(given), seen_of(episode).version != seen.version)


def _ordered(rows: Iterable) -> list:
    return sorted(rows, key=lambda row: row.pk)


_MODELS = (Finding, Examined, Instruction)
