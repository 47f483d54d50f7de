"""Long work: a row is the truth, whoever claims it runs it, and a killed process loses only its claim.

A kind of job is a generator function in KINDS: it yields (steps done, steps in all) and returns a sentence with counts.
Each step commits by itself and is safe to repeat.
"""

from collections.abc import Callable, Generator
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone

from caseload.actions.act import By
from caseload.models import Job, JobFile, JobState

CLAIM = timedelta(minutes=2)
MOST_TRIES = 5
FILES_KEPT = timedelta(days=1)
Steps = Generator[tuple[int, int], None, str]

KINDS: dict[str, Callable[[Job], Steps]] = {}


def kind(name: str) -> Callable[[Callable[[Job], Steps]], Callable[[Job], Steps]]:
    """Register the function that does this kind of job."""

    def keep(function: Callable[[Job], Steps]) -> Callable[[Job], Steps]:
        KINDS[name] = function
        return function

    return keep


def ask(name: str, *, by: By, **asked: Any) -> Job:
    """Ask for a job; it begins within a second of the commit. The same job still waiting is not asked for twice."""
    waiting = Job.objects.filter(kind=name, asked=asked, state=JobState.WAITING).first()
    return waiting or Job.objects.create(kind=name, asked=asked, by=by.staff, created_at=by.at)


def forget_files(now: datetime) -> None:
    """A file that a job made can be made again: it is kept for a day, the job with its answer for good."""
    JobFile.objects.filter(job__ended_at__lt=now - FILES_KEPT).delete()


def due_ids(limit: int) -> list[int]:
    """Jobs that nobody has claimed, oldest first."""
    return list(_free(timezone.now()).order_by("id").values_list("pk", flat=True)[:limit])


def run_due_jobs(limit: int) -> int:
    """Run due jobs one after the other; give back how many were run."""
    return sum(run_job(job_id) for job_id in due_ids(limit))


def run_job(job_id: int) -> bool:
    """Claim a job and run it; False if somebody else has it or it is over."""
    now = timezone.now()
    claimed = _free(now).filter(pk=job_id).update(claimed_until=now + CLAIM, state=JobState.RUNNING)
    if not claimed:
        return False
    job = Job.objects.get(pk=job_id)
    job.tries += 1
    job.save(update_fields=["tries"])
    _carry_out(job)
    return True


def _free(now: datetime) -> Any:
    unclaimed = Q(claimed_until__isnull=True) | Q(claimed_until__lt=now)
    return Job.objects.filter(unclaimed, ended_at__isnull=True)


def _carry_out(job: Job) -> None:
    try:
        answer = _step_through(job, KINDS[job.kind](job))
        _end(job, JobState.DONE, answer=answer)
    except Exception as error:
        if job.tries >= MOST_TRIES:
            _end(job, JobState.FAILED, error=f"{type(error).__name__} after {job.tries} tries")
        raise


def _step_through(job: Job, steps: Steps) -> str:
    while True:
        try:
            done, of = next(steps)
        except StopIteration as over:
            return str(over.value)
        Job.objects.filter(pk=job.pk).update(done_steps=done, steps=of, claimed_until=timezone.now() + CLAIM)


def _end(job: Job, state: JobState, *, answer: str = "", error: str = "") -> None:
    Job.objects.filter(pk=job.pk).update(
        state=state, answer=answer[:500], error=error[:500], claimed_until=None, ended_at=timezone.now()
    )
