"""Stored against derived: report the drift, and mend it. After a change of rules, holidays or closures, and nightly.

Notices are looked at after the episodes: whom e-mail reaches changes without an act, and calendars move reminders.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial

from django.db import transaction

from caseload.access import Act
from caseload.actions import in_step
from caseload.actions.act import By, entry
from caseload.actions.jobs import Steps, ask, kind
from caseload.actions.settle import Moved, compare, write
from caseload.models import Episode, Job, TrailEntry
from caseload.reads.notices_wanted import keys_to_look_at
from caseload.reads.timetables import with_sources

BATCH = 250
Step = Callable[[], None]


@dataclass
class Drift:
    """How many episodes were looked at, and what did not match: by the code of the episode, or of the `appointments`
    whose notices did not."""

    looked_at: int = 0
    appointments: int = 0
    moved: dict[str, Moved] = field(default_factory=dict)

    def sentence(self, mended: bool) -> str:
        done = "mended" if mended else "found, nothing written"
        episodes = f"{self.looked_at} episodes derived, {len(self.moved) - self.appointments} with drift {done}."
        return f"{episodes} Notices of {self.appointments} appointments {done}." if self.appointments else episodes


def rederive(*, by: By, mend: bool = True) -> Drift:
    """Derive every open episode again and compare; with `mend`, write what moved, batch by batch."""
    drift = Drift()
    for step in _steps(drift, by, mend):
        step()
    return drift


@kind("rederive")
def rederive_job(job: Job) -> Steps:
    """The same in steps, for the background. An interrupted run starts again: what is mended is equal already."""
    drift = Drift()
    steps = _steps(drift, By(job.by, job.created_at, job.created_at.date()), mend=True)
    for done, step in enumerate(steps):
        yield done, len(steps)
        step()
    return drift.sentence(mended=True)


def ask_nightly(now: datetime) -> None:
    ask("rederive", by=By(None, now, now.date()))


def _steps(drift: Drift, by: By, mend: bool) -> list[Step]:
    """Batch by batch, each in a transaction of its own."""
    episodes = Episode.objects.open().order_by("id").values_list("pk", flat=True)
    derive = [partial(_one_batch, ids, drift, by, mend) for ids in _batches(list(episodes))]
    keep = [partial(_notices, ids, drift, by, mend) for ids in _batches(keys_to_look_at(by.at))]
    return [*derive, *keep]


def _batches(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    return (ids[start : start + BATCH] for start in range(0, len(ids), BATCH))


def _notices(ids: Sequence[int], drift: Drift, by: By, mend: bool) -> None:
    with transaction.atomic():
        writes = in_step.compare(ids, by.at)
        drift.moved |= writes.said
        drift.appointments += len(writes.said)
        if mend:
            in_step.write(writes)


def _one_batch(ids: Sequence[int], drift: Drift, by: By, mend: bool) -> None:
    with transaction.atomic():
        list(Episode.objects.select_for_update().filter(pk__in=ids).order_by("id").values_list("pk"))
        episodes = {row.pk: row for row in with_sources(Episode.objects.filter(pk__in=ids).order_by("id"))}
        writes = compare(list(episodes.values()))
        drift.looked_at += len(episodes)
        for pk, moved in writes.moved.items():
            drift.moved[episodes[pk].code] = moved
        if mend:
            write(writes)
            TrailEntry.objects.bulk_create(
                TrailEntry(**_entry(episodes[pk], moved, by)) for pk, moved in writes.moved.items()
            )


def _entry(episode: Episode, moved: Moved, by: By) -> dict[str, object]:
    return entry(Act.EPISODES_REDERIVE, episode, by=by, patient_id=episode.patient_id, changed=moved)
