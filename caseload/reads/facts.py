"""What is recorded of episodes, as the values that the timetable is derived from: one query for each kind of row."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any, Final, NamedTuple, Protocol

from caseload.models import Appointment, Completion, Episode, Instruction, SetReview
from caseload.reads.findings import standing_findings
from caseload.reads.prepared import Prepared
from caseload.timetable import facts
from caseload.timetable.terms import Digit, Ending, Outcome, Side, Suture, Technique

Grouped = dict[int, list[Any]]


def facts_of(episodes: Sequence[Episode]) -> dict[int, facts.EpisodeFacts]:
    """The facts of each episode by its id, in seven queries however many there are."""
    ids = [episode.pk for episode in episodes]
    findings, reviews, instructions = standing_findings(ids), _reviews(ids), _instructions(ids)
    appointments, done = _appointments(ids), _done(ids)
    born = dict(_BORN(ids))
    return {
        episode.pk: facts.EpisodeFacts(
            **_own(episode),
            born_on=born[episode.pk],
            findings=findings[episode.pk],
            reviews=tuple(reviews[episode.pk]),
            instructions=tuple(instruction(row, episode) for row in instructions[episode.pk]),
            appointments=tuple(appointments[episode.pk]),
            done=tuple(done[episode.pk]),
        )
        for episode in episodes
    }


def first_facts_of(episode: Episode) -> facts.EpisodeFacts:
    """The facts of an episode of which nothing is recorded yet; it brings its patient."""
    return facts.EpisodeFacts(**_own(episode), born_on=episode.patient.born_on)


def _own(episode: Episode) -> dict[str, Any]:
    return {
        "ref": episode.code,
        "surgery_on": episode.surgery_on,
        "side": Side(episode.side) if episode.side else None,
        "digit": Digit(episode.digit) if episode.digit else None,
        "suture": Suture(episode.suture),
        "technique": Technique(episode.technique),
        "raised_risk": episode.raised_risk,
        "therapy_referral": episode.for_therapy,
        "stitches_in": episode.stitches_in,
        "recorded_on": episode.recorded_on,
        "closed_on": episode.ended_on,
        "closed_as": Ending(episode.ended_how) if episode.ended_how else None,
    }


def _reviews(ids: Sequence[int]) -> Grouped:
    found: Grouped = defaultdict(list)
    for episode, key, *values in _REVIEWS(ids):
        found[episode].append(facts.SetReview(f"r{key}", *values))
    return found


def _instructions(ids: Sequence[int]) -> Grouped:
    found: Grouped = defaultdict(list)
    for episode, *values in _INSTRUCTIONS(ids):
        found[episode].append(Ordered(*values))
    return found


class Ordered(NamedTuple):
    """What an instruction says, as its row does."""

    item: str
    by_whom: str
    why: str
    earliest: int | None
    target: int | None
    latest: int | None
    from_day: int | None
    locked: bool
    confirmed_for: date | None


class Operated(Protocol):
    @property
    def surgery_on(self) -> date | None: ...


def instruction(row: Instruction | Ordered, episode: Episode | Operated) -> facts.Instruction:
    return facts.Instruction(
        item=row.item,
        by=row.by_whom,
        why=row.why,
        earliest=row.earliest,
        target=row.target,
        latest=row.latest,
        from_day=row.from_day,
        locked=row.locked,
        confirmed=row.confirmed_for == episode.surgery_on,
    )


def _appointments(ids: Sequence[int]) -> Grouped:
    served: dict[tuple[int, tuple[Any, ...]], list[str]] = defaultdict(list)
    for episode, *row, key in _APPOINTMENTS(ids):
        served[episode, tuple(row)].append(key)
    found: Grouped = defaultdict(list)
    for (episode, values), keys in served.items():
        found[episode].append(_appointment(values, tuple(keys)))
    return found


def _appointment(values: tuple[Any, ...], keys: tuple[str, ...]) -> facts.Appointment:
    _, on, outcome, ended_on, approved_by, untold_since, told, needed = values
    return facts.Appointment(
        on, keys, Outcome(outcome) if outcome else None, ended_on, bool(approved_by), untold_since,
        interpreter_untold=needed and not told,
    )  # fmt: skip


def _done(ids: Sequence[int]) -> Grouped:
    found: Grouped = defaultdict(list)
    for episode, key, on in _DONE(ids):
        found[episode].append(facts.Done(key, on))
    return found


_BORN: Final = Prepared(lambda ids: Episode.objects.filter(pk__in=ids).values_list("pk", "patient__born_on"))
_REVIEWS: Final = Prepared(
    lambda ids: SetReview.objects.filter(episode__in=ids, withdrawn_at__isnull=True).values_list(
        "episode_id", "id", "on", "in_days", "minutes"
    )
)
_INSTRUCTIONS: Final = Prepared(
    lambda ids: Instruction.objects.filter(episode__in=ids, withdrawn_at__isnull=True).values_list(
        "episode_id", *Ordered._fields
    )
)
_APPOINTMENTS: Final = Prepared(
    lambda ids: Appointment.objects.filter(purposes__follow_up__episode__in=ids)
    .values_list(
        "purposes__follow_up__episode", "id", "on", "outcome", "ended_on", "approved_by", "untold_since_on",
        "interpreter_told", "patient__interpreter", "purposes__follow_up__key",
    )
    .order_by("on", "id", "purposes__id")
)  # fmt: skip
_DONE: Final = Prepared(
    lambda ids: Completion.objects.filter(follow_up__episode__in=ids).values_list(
        "follow_up__episode", "follow_up__key", "on"
    )
)
