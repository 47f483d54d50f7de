"""The whole demo: the stage, the cast that shows everything there is, and the crowd around it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Final

from django.db import transaction
from django.utils import timezone

from caseload.actions.settle import together
from caseload.demo import courses, examined, in_hand, needing, unfinished
from caseload.demo.agenda import Agenda
from caseload.demo.ahead import look_ahead
from caseload.demo.crowd import live
from caseload.demo.filed import file_a_month
from caseload.demo.names import People
from caseload.demo.notices import catch_up
from caseload.demo.roles import CAST, cast
from caseload.demo.stage import set_stage
from caseload.demo.telling import Over, Story
from caseload.demo.waiting import waiting_list
from caseload.models import Appointment, Episode, Patient, Session, Slot
from caseload.reads import overdue

SEED: Final = 1789
CROWD: Final = 312
SOON: Final = timedelta(days=14)
PLAYS: Final = (needing, in_hand, courses, examined, unfinished)
"""The modules whose roles are on the cast list, in this order."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Summary:
    """What stands when the demo is built: episodes, those still open and operated on, and these by headline; sessions,
    visits booked ahead, and slots free within two weeks."""

    patients: int
    episodes: int
    open: int
    in_hand: int
    planned: int
    headlines: dict[str, int]
    sessions: int
    booked: int
    free: int


def build(
    today: date,
    *,
    now: datetime | None = None,
    seed: int = SEED,
    scale: float = 1.0,
    progress: Progress = lambda done, of: None,
) -> Summary:
    """Fill an empty database with the demo as of `today`, in one transaction; `scale` 1 gives about 400 episodes.

    `now` is the instant that nothing recorded lies after (noon of today, if not given). The cast is whole at any scale.
    """
    now = now or timezone.make_aware(datetime.combine(today, time(12)))
    with transaction.atomic():
        stage, people = set_stage(now), People(Random(f"{seed} names"))
        stories = [cast(part, stage, people, Random(f"{seed} role {place}")) for place, part in enumerate(CAST)]
        stories += [live(stage, people, Random(f"{seed} life {place}")) for place in range(round(CROWD * scale))]
        stories += waiting_list(stage, people, Random(f"{seed} waiting list"), scale)
        play(stories, stage.due, progress)
        look_ahead(stage)
        catch_up(stage)
        file_a_month(stage)
    return summary(today)


def play(stories: Sequence[Story], due: Agenda, progress: Progress) -> None:
    """Tell all stories side by side: each goes on until it must know what is due, then all that was done is settled."""
    running = list(stories)
    progress(0, len(stories))
    while running:
        due.read()
        with together():
            running = [story for story in running if _goes_on(story)]
        progress(len(stories) - len(running), len(stories))


def summary(today: date) -> Summary:
    counts = overdue.counts(today)
    return Summary(
        patients=Patient.objects.count(),
        episodes=Episode.objects.count(),
        open=counts.open,
        in_hand=counts.in_hand,
        planned=Episode.objects.planned(today).count(),
        headlines={str(headline): number for headline, number in counts.by("headline").items()},
        sessions=Session.objects.count(),
        booked=Appointment.objects.filter(live=True, outcome="", on__gte=today).count(),
        free=Slot.objects.filter(live=True, held_why="", seat__isnull=True, on__gt=today, on__lte=today + SOON).count(),
    )


def _goes_on(story: Story) -> bool:
    try:
        next(story)
    except (StopIteration, Over):
        return False
    return True
