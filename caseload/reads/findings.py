"""The findings that stand, as the values that timetables, lists and waits read: one query for all of the episodes."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import QuerySet

from caseload.models import Finding
from caseload.reads.prepared import Prepared
from caseload.timetable import facts
from caseload.timetable.terms import FindingKind, Source, WoundState

Findings = Mapping[int, tuple[facts.Finding, ...]]


def standing_findings(episodes: Iterable[int]) -> Findings:
    """Those of each episode, in their order."""
    found: dict[int, tuple[facts.Finding, ...]] = defaultdict(tuple)
    for episode, first, own, *values in _FINDINGS(list(episodes)):
        found[episode] += (_finding(f"f{first or own}", *values),)
    return found


COLUMNS = (
    "episode_id", "first_id", "id", "kind", "on", "source", "known_on", "countersignature__on", "stitches_out",
    "stitches_left", "confirmed_full", "wound", "closure__on",
)  # fmt: skip


def _findings(episodes: Sequence[int]) -> QuerySet[Finding, Any]:
    return Finding.objects.standing().filter(episode__in=episodes).in_order().values_list(*COLUMNS)


_FINDINGS = Prepared(_findings)


def _finding(ref: str, kind: str, on: Any, source: str, known: Any, signed: Any, out: Any, left: Any, full: bool,
             wound: str, closed: Any) -> facts.Finding:  # fmt: skip
    state = WoundState(wound) if wound else None
    return facts.Finding(ref, FindingKind(kind), on, Source(source), known, signed, out, left, full, state, closed)
