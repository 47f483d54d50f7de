"""Stored against derived: report the drift, and mend it. After a change of rules, holidays or closures, and nightly."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from caseload.access import Act
from caseload.actions.act import By, entry
from caseload.actions.jobs import Steps, ask, kind
from caseload.actions.settle import Moved, compare, write
from caseload.models import Episode, Job, TrailEntry
from caseload.reads.timetables import with_sources

BATCH = 250


@dataclass
class Drift:
    """How many episodes were looked at, and what did not match in which of them, by episode code."""

    looked_at: int = 0
    moved: dict[str, Moved] = field(default_factory=dict)

    def sentence(self, mended: bool) -> str:
        done = "mended" if mended else "found, nothing written"
        return f"{self.looked_at} episodes derived, {len(self.moved)} with drift {done}."


def rederive(*, by: By, mend: bool = True) -> Drift:
    """Derive every open episode again and compare; with `mend`, write what moved, batch by batch."""
    drift = Drift()
    for ids in _batches():
        _one_batch(ids, drift, by, mend)
    return drift


@kind("rederive")
def rederive_job(job: Job) -> Steps:
    """The same in steps, for the background. An interrupted run starts again: what is mended is equal already."""
    drift, batches = Drift(), list(_batches())
    by = By(job.by, job.created_at, job.created_at.date())
    for done, ids in enumerate(batches):
        yield done, len(batches)
        _one_batch(ids, drift, by, mend=True)
    return drift.sentence(mended=True)


def ask_nightly(now: datetime) -> None:
    ask("rederive", by=By(None, now, now.date()))


def _batches() -> Iterator[list[int]]:
    ids = list(Episode.objects.open().order_by("id").values_list("pk", flat=True))
    return (ids[start : start + BATCH] for start in range(0, len(ids), BATCH))


def _one_batch(ids: list[int], drift: Drift, by: By, mend: bool) -> None:
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
