"""Stored against derived: report the drift, and mend it. After a change of rules, holidays or closures, and nightly.

Notices are looked at after the episodes: whom e-mail reaches changes without an act, and calendars move reminders.
Then the waits of all patients, closed ones too: a target that is set anew moves what it was held against.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from types import MappingProxyType

from django.db import transaction

from caseload.access import Act
from caseload.actions import in_step, waits
from caseload.actions.act import By, entry
from caseload.actions.jobs import Steps, ask, kind, reach
from caseload.actions.settle import Moved, compare, write
from caseload.actions.turns import in_turn
from caseload.models import Episode, Job, Patient, TrailEntry
from caseload.reads.notices_wanted import keys_to_look_at
from caseload.reads.waits_wanted import keys_that_may_wait

BATCH = 250
SHARED = ("rules", "site__region")
"""Read once for all episodes of a batch: the text of a set of rules takes longer to read than an episode to derive."""
Step = tuple[dict[str, int], Callable[[], None]]
"""What a step reaches, as the last key of a table, and what it does."""


@dataclass
class Drift:
    """How many episodes were looked at, and what did not match: `drifted` episodes, `appointments` whose notices did
    not and `patients` whose waits did not, by their codes."""

    looked_at: int = 0
    drifted: int = 0
    appointments: int = 0
    patients: int = 0
    moved: dict[str, Moved] = field(default_factory=dict)

    def sentence(self, mended: bool) -> str:
        done = "put right" if mended else "found, nothing written"
        said = f"{self.looked_at} episodes worked out again; differences in {self.drifted} {done}."
        said += f" Notices of {self.appointments} appointments {done}." if self.appointments else ""
        return said + (f" Waits of {self.patients} patients {done}." if self.patients else "")

    def counts(self) -> dict[str, int]:
        return {name: getattr(self, name) for name in ("looked_at", "drifted", "appointments", "patients")}


def rederive(*, by: By, mend: bool = True) -> Drift:
    """Derive every open episode again and compare; with `mend`, write what moved, batch by batch."""
    drift = Drift()
    for _, do in _steps(drift, by, mend):
        do()
    return drift


@kind("rederive")
def rederive_job(job: Job) -> Steps:
    """The same in steps, for the background. A run taken over goes on after the last step that was done."""
    drift = Drift(**{name: job.reached.get(name, 0) for name in Drift().counts()})
    by = By(job.by, job.created_at, job.created_at.date(), origin=f"job {job.code}")
    steps = _steps(drift, by, mend=True, after=job.reached)
    for done, (reached, do) in enumerate(steps):
        yield done, len(steps)
        do()
        reach(job, **job.reached | reached | drift.counts())
    return drift.sentence(mended=True)


def ask_nightly(now: datetime) -> None:
    ask("rederive", by=By(None, now, now.date(), origin="background"))


def _steps(drift: Drift, by: By, mend: bool, after: Mapping[str, int] = MappingProxyType({})) -> list[Step]:
    """Batch by batch, each in a transaction of its own, by key."""
    episodes = Episode.objects.open().order_by("id").values_list("pk", flat=True)
    work = {
        "episode": (_one_batch, list(episodes)),
        "notices_of": (_notices, keys_to_look_at(by.at)),
        "waits_of": (_waits, keys_that_may_wait()),
    }
    return [
        ({name: ids[-1]}, partial(do, ids, drift, by, mend))
        for name, (do, keys) in work.items()
        for ids in _batches([key for key in keys if key > after.get(name, 0)])
    ]


def _batches(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    return (ids[start : start + BATCH] for start in range(0, len(ids), BATCH))


def _notices(ids: Sequence[int], drift: Drift, by: By, mend: bool) -> None:
    with in_turn(), transaction.atomic():
        writes = in_step.compare(ids, by.at)
        drift.moved |= writes.said
        drift.appointments += len(writes.said)
        if mend:
            in_step.write(writes)


def _waits(ids: Sequence[int], drift: Drift, by: By, mend: bool) -> None:
    with in_turn(), transaction.atomic():
        writes = waits.compare(ids)
        drift.patients += len(writes.moved)
        codes = dict(Patient.objects.filter(pk__in=writes.moved).values_list("pk", "code"))
        drift.moved |= {codes[pk]: moved for pk, moved in writes.moved.items()}
        if mend:
            waits.write(writes)


def _one_batch(ids: Sequence[int], drift: Drift, by: By, mend: bool) -> None:
    with in_turn(), transaction.atomic():
        list(Episode.objects.select_for_update().filter(pk__in=ids).order_by("id").values_list("pk"))
        episodes = {row.pk: row for row in Episode.objects.filter(pk__in=ids).order_by("id").prefetch_related(*SHARED)}
        writes = compare(list(episodes.values()))
        drift.looked_at += len(episodes)
        drift.drifted += len(writes.moved)
        for pk, moved in writes.moved.items():
            drift.moved[episodes[pk].code] = moved
        if mend:
            write(writes)
            TrailEntry.objects.bulk_create(
                TrailEntry(**_entry(episodes[pk], moved, by)) for pk, moved in writes.moved.items()
            )


def _entry(episode: Episode, moved: Moved, by: By) -> dict[str, object]:
    return entry(Act.EPISODES_REDERIVE, episode, by=by, patient_id=episode.patient_id, changed=moved)
