"""What is recorded of episodes, as the values that the timetable is derived from: one query for each kind of row."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

from caseload.models import Appointment, Completion, Episode, Finding, Instruction, SetReview
from caseload.timetable import facts
from caseload.timetable.terms import Digit, Ending, FindingKind, Outcome, Side, Source, Suture, Technique, WoundState

Grouped = dict[int, list[Any]]


def facts_of(episodes: Sequence[Episode]) -> dict[int, facts.EpisodeFacts]:
    """The facts of each episode by its id, in seven queries however many there are."""
    ids = [episode.pk for episode in episodes]
    findings, reviews, instructions = _findings(ids), _reviews(ids), _instructions(ids)
    appointments, done = _appointments(ids), _done(ids)
    born = dict(Episode.objects.filter(pk__in=ids).values_list("pk", "patient__born_on"))
    return {
        episode.pk: facts.EpisodeFacts(
            **_own(episode),
            born_on=born[episode.pk],
            findings=tuple(findings[episode.pk]),
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


def _findings(ids: Iterable[int]) -> Grouped:
    rows = Finding.objects.standing().filter(episode__in=ids).select_related("countersignature", "closure")
    found: Grouped = defaultdict(list)
    for row in rows.in_order():
        found[row.episode_id].append(finding(row))
    return found


def finding(row: Finding) -> facts.Finding:
    countersigned = getattr(row, "countersignature", None)
    closed = getattr(row, "closure", None)
    return facts.Finding(
        ref=row.ref,
        kind=FindingKind(row.kind),
        on=row.on,
        source=Source(row.source),
        recorded_on=row.known_on,  # type: ignore[attr-defined]  # of `in_order`
        countersigned_on=countersigned.on if countersigned else None,
        out=row.stitches_out,
        left=row.stitches_left,
        confirmed_full=row.confirmed_full,
        state=WoundState(row.wound) if row.wound else None,
        closed_on=closed.on if closed else None,
    )


def _reviews(ids: Iterable[int]) -> Grouped:
    found: Grouped = defaultdict(list)
    for row in SetReview.objects.filter(episode__in=ids, withdrawn_at__isnull=True):
        found[row.episode_id].append(facts.SetReview(row.ref, row.on, row.in_days, row.minutes))
    return found


def _instructions(ids: Iterable[int]) -> Grouped:
    found: Grouped = defaultdict(list)
    for row in Instruction.objects.filter(episode__in=ids, withdrawn_at__isnull=True):
        found[row.episode_id].append(row)
    return found


def instruction(row: Instruction, episode: Episode) -> facts.Instruction:
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


def _appointments(ids: Iterable[int]) -> Grouped:
    rows = (
        Appointment.objects.filter(purposes__follow_up__episode__in=ids)
        .values_list(
            "purposes__follow_up__episode",
            "id",
            "on",
            "outcome",
            "ended_on",
            "approved_by",
            "untold_since_on",
            "interpreter_told",
            "patient__interpreter",
            "purposes__follow_up__key",
        )
        .order_by("on", "id", "purposes__id")
    )
    served: dict[tuple[int, tuple[Any, ...]], list[str]] = defaultdict(list)
    for episode, *row, key in rows:
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


def _done(ids: Iterable[int]) -> Grouped:
    found: Grouped = defaultdict(list)
    rows = Completion.objects.filter(follow_up__episode__in=ids)
    for episode, key, on in rows.values_list("follow_up__episode", "follow_up__key", "on"):
        found[episode].append(facts.Done(key, on))
    return found
