"""What keeps the activities of many hands locked, for lists: in three queries, by the same code that derives."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from caseload.models import Episode, Instruction
from caseload.reads.facts import first_facts_of, instruction
from caseload.reads.findings import Findings, standing_findings
from caseload.reads.rules import rules_of_digest
from caseload.timetable import facts
from caseload.timetable.activities import Locks, locks_of
from caseload.timetable.hand import restrict_locks


class Hands(NamedTuple):
    """By episode: what keeps its activities locked, and the findings that say so."""

    locks: dict[int, Locks]
    findings: Findings


def locks_of_hands(patients: Iterable[int], today: date) -> Hands:
    """The locks of every open episode of these patients by its id, as the other digits of the hand leave them."""
    of_them = Episode.objects.on_caseload(today).filter(patient__in=list(patients))
    episodes = list(of_them.select_related("patient", "rules").defer("rules__body"))
    findings = standing_findings([episode.pk for episode in episodes])
    orders = _orders(episodes)
    own = {
        episode.pk: locks_of(
            replace(first_facts_of(episode), findings=findings[episode.pk], instructions=orders[episode.pk]),
            rules_of_digest(episode.rules.digest),
        )
        for episode in episodes
    }
    locks = {each.pk: restrict_locks(own[each.pk], *_others(each, episodes, own)) for each in episodes}
    return Hands(locks, findings)


def _others(episode: Episode, episodes: Iterable[Episode], own: dict[int, Locks]) -> tuple[list[Locks], list[Locks]]:
    """Those of the same hand, and of the same digit; where the side is not known yet, nobody can say which it is."""
    hand = (episode.patient_id, episode.side)
    others = [other for other in episodes if (other.patient_id, other.side) == hand and other.pk != episode.pk]
    if not episode.side:
        return [], []
    same = [other for other in others if other.digit == episode.digit != ""]
    return [own[other.pk] for other in others], [own[other.pk] for other in same]


def _orders(episodes: Iterable[Episode]) -> dict[int, tuple[facts.Instruction, ...]]:
    by_id = {episode.pk: episode for episode in episodes}
    found: dict[int, tuple[facts.Instruction, ...]] = defaultdict(tuple)
    for row in Instruction.objects.filter(episode__in=by_id, withdrawn_at__isnull=True):
        found[row.episode_id] += (instruction(row, by_id[row.episode_id]),)
    return found
