"""The trail taken away as a file, and its seals checked: asked for here, done behind the pages."""

from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from typing import Any, Final

from django.db import transaction
from django.utils import timezone

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act, trail
from caseload.actions.jobs import Steps, reach
from caseload.actions.turns import in_turn
from caseload.models import Job, JobFile, Look
from caseload.reads.proof import Walk
from caseload.reads.trail import all_rows, asked_of, count
from caseload.reads.trail_file import MEDIA, written
from caseload.wording.trail import say_fault, say_proof

FILE: Final = "trail-file"
PROOF: Final = "trail-proof"
MOST: Final = 50_000
"""Rows in one file; whoever wants more asks for fewer days, or for the export of everything."""
AT_ONCE: Final = 1000
SERVICE: Final = "Hand therapy"


@act(Act.TRAIL_READ)
def ask(*, by: By, rows: int, kind: str, query: dict[str, str]) -> Job:
    """Ask for `rows` rows of the trail as a file of a `kind`. That it is taken away is recorded now."""
    Look.objects.create(at=by.at, by=by.person, route=FILE, rows=rows, origin=by.origin)
    job = jobs.ask(FILE, by=by, kind=kind, query=query, on=by.at.isoformat())
    trail(Act.TRAIL_READ, job, by=by, patient_id=None, changed={})
    return job


@act(Act.TRAIL_READ)
def check(*, by: By) -> Job:
    """Ask for the seals to be checked."""
    job = jobs.ask(PROOF, by=by)
    trail(Act.TRAIL_READ, job, by=by, patient_id=None, changed={})
    return job


def check_nightly(now: datetime) -> None:
    """Each night the seals are checked, and what was found stands on the page of the trail."""
    jobs.ask(PROOF, by=By(None, now, timezone.localdate(now), origin="background"))


@jobs.kind(PROOF)
def prove(job: Job) -> Steps:
    """A run that was interrupted begins again."""
    walk = Walk({})
    yield from walk.steps()
    proof = walk.proof
    with in_turn(), transaction.atomic():
        reach(job, fits=not proof.faults)
    return f"{say_fault(proof.first)} {say_proof(proof)}" if proof.first else say_proof(proof)


@jobs.kind(FILE, asks=Act.TRAIL_READ)
def make(job: Job) -> Steps:
    """Write the rows that there were when it was asked for. A run that was killed begins again."""
    if "rows" not in job.reached:
        yield from _make(job)
    return f"{job.reached['rows']} rows are in the file."


def _make(job: Job) -> Iterator[tuple[int, int]]:
    asked, kind = asked_of(job.asked["query"], by_then=datetime.fromisoformat(job.asked["on"])), job.asked["kind"]
    total, parts, done = count(asked, MOST), [written(kind, (), SERVICE, first=True)], 0
    rows = islice(all_rows(asked), total)
    while some := list(islice(rows, AT_ONCE)):
        parts.append(written(kind, some, SERVICE, first=False))
        done += len(some)
        yield done, total
    file: dict[str, Any] = {"media_type": MEDIA[kind], "content": b"".join(parts)}
    file["name"] = f"trail-{timezone.localdate(job.created_at).isoformat()}.{'ndjson' if kind == 'json' else kind}"
    with in_turn(), transaction.atomic():
        JobFile.objects.update_or_create(job=job, defaults=file)
        reach(job, rows=done)
