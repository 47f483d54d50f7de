"""What a saved visit changed: the timetables of its digits as they are, beside what they would be without it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from caseload.models import Episode, Visit
from caseload.reads.timetables import hand_of, with_sources
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.moves import Move, moves


def moved_by(visit: Visit, episodes: Sequence[Episode]) -> dict[int, tuple[Move, ...]]:
    """By the key of the episode, as of the day on which it was recorded, with what was corrected since."""
    refs = _refs(visit)
    stored = with_sources(Episode.objects.filter(pk__in=[row.pk for row in episodes]).select_related("patient"))
    return {row.pk: _moves(row, visit, refs) for row in stored}


def _moves(episode: Episode, visit: Visit, refs: frozenset[str]) -> tuple[Move, ...]:
    after = hand_of(episode, today=visit.recorded_on)
    before = hand_of(episode, today=visit.recorded_on, but=lambda facts: _without(facts, refs))
    return moves(before.own, after.own)


def _without(facts: EpisodeFacts, refs: Iterable[str]) -> EpisodeFacts:
    return replace(
        facts,
        findings=tuple(row for row in facts.findings if row.ref not in refs),
        reviews=tuple(row for row in facts.reviews if row.ref not in refs),
    )


def _refs(visit: Visit) -> frozenset[str]:
    """What the heart knows its findings and reviews by."""
    reviews = visit.examined.filter(review__isnull=False).values_list("review", flat=True)
    return frozenset({row.ref for row in visit.findings.all()} | {f"r{pk}" for pk in reviews})
