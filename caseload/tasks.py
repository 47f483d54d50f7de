"""Celery tasks, each one line into the function that the `background` command calls too. Arguments are ids."""

from celery import shared_task

from caseload.actions import jobs, ticks

SWEEP_LIMIT = 100


@shared_task(ignore_result=True)
def run_job(job_id: int) -> None:
    jobs.run_job(job_id)


@shared_task(ignore_result=True)
def sweep() -> None:
    """Wake a worker for each due row; one sent twice is run once, because running begins with a claim."""
    for job_id in jobs.due_ids(limit=SWEEP_LIMIT):
        run_job.delay(job_id)


@shared_task(ignore_result=True)
def tick() -> None:
    ticks.run_due_ticks()
