"""What an act would move, before it is carried out: the act itself, done and undone in one transaction.

A preview made so cannot promise anything that the saving does not do, and it refuses what the saving would refuse.
"""

from collections.abc import Callable, Sequence
from datetime import date
from typing import TypeVar

from django.db import transaction

from caseload.models import Episode, Patient
from caseload.reads.consequences import Consequences, between, standing_of
from caseload.reads.timetables import hand_timetable
from caseload.timetable.moves import Move, moves

Seen = TypeVar("Seen")


def rehearse(episode: Episode, doing: Callable[[], object], *, today: date) -> tuple[Move, ...]:
    """What `doing` would move in the timetable of `episode` as of today. Raises the Refusal that `doing` raises."""
    with transaction.atomic():
        before = hand_timetable(episode, today=today)
        doing()
        after = hand_timetable(Episode.objects.get(pk=episode.pk), today=today)
        transaction.set_rollback(True)
    return moves(before, after)


def foresee(patient: Patient, episodes: Sequence[Episode], doing: Callable[[], object], *, today: date) -> Consequences:
    """What `doing` would bring about for some episodes of a patient. Raises the Refusal that `doing` raises.

    What stands now is read before the transaction, so that writers wait no longer than they must.
    """
    before = standing_of(patient, episodes, today=today)
    with transaction.atomic():
        doing()
        after = standing_of(patient, episodes, today=today)
        transaction.set_rollback(True)
    return between(before, after)


def look_ahead(doing: Callable[[], object], look: Callable[[], Seen]) -> Seen:
    """What `look` finds once `doing` is done; then it is undone. Raises the Refusal that `doing` raises."""
    with transaction.atomic():
        doing()
        seen = look()
        transaction.set_rollback(True)
    return seen
