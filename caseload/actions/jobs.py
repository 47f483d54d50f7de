"""Long work: a row is the truth, whoever claims it runs it, and a killed process loses only its claim.

A kind of job is a generator function in KINDS: it yields (steps done, steps in all) and returns a sentence with counts.
Each step commits by itself. A step that must not be done twice marks in its own transaction how far the work is
(`reach`); a run taken over goes on from there. One step has to end within the claim: whoever takes longer finds the job
taken over, and what it did in that step is undone.
"""

from collections.abc import Callable, Generator
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import Q, QuerySet
from django.utils import timezone

from caseload.access import Act, may
from caseload.actions.act import By, act, trail
from caseload.errors import Refusal
from caseload.models import Job, JobFile, JobState
from caseload.timetable.terms import Owner

CLAIM: Final = timedelta(minutes=2)
AGAIN: Final = timedelta(seconds=15)
"""After the first failure; twice as long after each further one."""
MOST_TRIES: Final = 5
"""Runs after which a failure is the last; a run that was only interrupted is no failure."""
MOST_RUNS: Final = 50
"""A job that takes every process down with it is given up."""
FILES_KEPT: Final = timedelta(days=1)
Steps = Generator[tuple[int, int], None, str]

KINDS: dict[str, Callable[[Job], Steps]] = {}
LEAVINGS: dict[str, Callable[[Job], str]] = {}
ASKS: dict[str, Act] = {}
NOT_ANY_MORE: Final = "whoever asked for it is not allowed to any more"


class TakenOver(Exception):
    """The claim ran out and another process has the job, or it is over: this run ends without a trace."""


def kind(
    name: str, *, leaves: Callable[[Job], str] | None = None, asks: Act | None = None
) -> Callable[[Callable[[Job], Steps]], Callable[[Job], Steps]]:
    """Register the function that does this kind of job. `leaves` tidies up after one that was cancelled or failed for
    good, and says in a sentence what stands. `asks`: the person who asked must still be allowed it when the job runs,
    as must be where it makes a file for them."""

    def keep(function: Callable[[Job], Steps]) -> Callable[[Job], Steps]:
        KINDS[name] = function
        if leaves:
            LEAVINGS[name] = leaves
        if asks:
            ASKS[name] = asks
        return function

    return keep


def ask(name: str, *, by: By, **asked: Any) -> Job:
    """Ask for a job; it begins within a second of the commit. The same job still waiting is not asked for twice."""
    waiting = Job.objects.filter(kind=name, asked=asked, state=JobState.WAITING, tries=0).first()
    return waiting or Job.objects.create(kind=name, asked=asked, by=by.staff, created_at=by.at)


@act(Act.JOB_CANCEL)
def cancel(job: Job, *, by: By) -> Job:
    """Cancel a job: at once while nobody has it, else after the step that runs just now.

    Raises Refusal `not-your-job` to anybody but whoever asked and a lead, and `job-over`.
    """
    row = Job.objects.select_for_update().get(pk=job.pk)
    if by.staff and row.by_id != by.staff.pk and Owner.LEAD not in by.roles:
        raise Refusal("not-your-job", "Somebody else asked for this. They, or a lead, can cancel it.")
    if row.ended_at:
        raise Refusal("job-over", "This is over already.")
    row.cancel_asked_at = row.cancel_asked_at or by.at
    row.save(update_fields=["cancel_asked_at"])
    if _free(timezone.now()).filter(pk=row.pk).exists():
        _leave(row, JobState.CANCELLED)
    trail(Act.JOB_CANCEL, row, by=by, patient_id=None, changed={"state": (row.state, JobState.CANCELLED)})
    row.refresh_from_db()
    return row


def reach(job: Job, **reached: Any) -> None:
    """Mark inside the transaction of a step how far the work is. Raises TakenOver, which undoes the step."""
    if not _held(job).update(reached=reached, claimed_until=timezone.now() + CLAIM):
        raise TakenOver
    job.reached = reached


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
    job = _claim(job_id, timezone.now())
    if job is None:
        return False
    if job.cancel_asked_at or job.tries > MOST_RUNS:
        _leave(job, JobState.CANCELLED if job.cancel_asked_at else JobState.FAILED, "interrupted too often")
    elif job.kind in ASKS and not still_may(job, ASKS[job.kind]):
        _leave(job, JobState.FAILED, NOT_ANY_MORE)
    else:
        _carry_out(job)
    return True


def still_may(job: Job, act: Act) -> bool:
    """Whether the person who asked for a job is still here and holds a role that may; the planner itself always may."""
    return job.by is None or (job.by.is_active and may(job.by.roles, act))


def _claim(job_id: int, now: datetime) -> Job | None:
    """Take a free job as its next try. Which try this is has been read before: a process that is held up after its
    claim, by a pulled cable for one, would read the number of whoever took the job over, and run beside them."""
    job = _free(now).select_related("by").filter(pk=job_id).first()
    if job is None:
        return None
    claimed = {"claimed_until": now + CLAIM, "state": JobState.RUNNING, "tries": job.tries + 1}
    if not _free(now).filter(pk=job_id, tries=job.tries).update(**claimed):
        return None
    job.state, job.tries = JobState.RUNNING, job.tries + 1
    return job


def _free(now: datetime) -> QuerySet[Job]:
    unclaimed = Q(claimed_until__isnull=True) | Q(claimed_until__lt=now)
    return Job.objects.filter(unclaimed, ended_at__isnull=True)


def _held(job: Job) -> QuerySet[Job]:
    """The row of a job for as long as this run has it: another run would have counted up the tries."""
    return Job.objects.filter(pk=job.pk, tries=job.tries, ended_at__isnull=True)


def _carry_out(job: Job) -> None:
    try:
        steps = KINDS[job.kind](job)
        answer = _step_through(job, steps)
        if answer is None:
            _leave(job, JobState.CANCELLED)
        else:
            _end(job, JobState.DONE, answer=answer)
    except TakenOver:
        return
    except Exception as error:
        _failed(job, type(error).__name__)
        raise


def _step_through(job: Job, steps: Steps) -> str | None:
    """Carry out step after step; the answer, None where it was cancelled between two."""
    while True:
        try:
            done, of = next(steps)
        except StopIteration as over:
            return str(over.value)
        going_on = _held(job).filter(cancel_asked_at__isnull=True)
        if not going_on.update(done_steps=done, steps=of, claimed_until=timezone.now() + CLAIM):
            steps.close()
            if not _held(job).exists():
                raise TakenOver
            return None


def _failed(job: Job, error: str) -> None:
    """Try again later, or give up."""
    if job.tries >= MOST_TRIES:
        _leave(job, JobState.FAILED, f"{error} after {job.tries} tries")
        return
    later = timezone.now() + AGAIN * 2 ** (job.tries - 1)
    _held(job).update(state=JobState.WAITING, error=error[:500], claimed_until=later)


def _leave(job: Job, state: JobState, error: str = "") -> None:
    """End a job that was not carried out whole, with what it leaves in words."""
    tidy = LEAVINGS.get(job.kind)
    _end(job, state, answer=tidy(job) if tidy else "", error=error if state == JobState.FAILED else "")


def _end(job: Job, state: JobState, *, answer: str = "", error: str = "") -> None:
    ended = {"answer": answer[:500], "error": error[:500], "ended_at": timezone.now()}
    _held(job).update(state=state, claimed_until=None, **ended)
