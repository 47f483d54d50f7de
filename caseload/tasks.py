"""Celery tasks, each one line into the function that the `background` command calls too. Arguments are ids."""

from collections.abc import Callable
from typing import Any

from celery import current_app, shared_task
from celery.signals import heartbeat_sent
from django.db import connections
from django.utils import timezone

from caseload.actions import jobs, notices, ticks
from caseload.actions.pulses import pulse
from caseload.outreach import post

FULL = 100
NEARLY_EMPTY = 10


@shared_task(ignore_result=True)
def run_job(job_id: int) -> None:
    jobs.run_job(job_id)


@shared_task(ignore_result=True)
def send_notice(notice_id: int) -> None:
    post.send_notice(notice_id)


@shared_task(ignore_result=True)
def sweep() -> None:
    """Wake a worker for each due row; one sent twice is run once, because running begins with a claim."""
    fill("notices", send_notice, lambda limit: notices.due_ids(limit, timezone.now()))
    fill("jobs", run_job, jobs.due_ids)


@shared_task(ignore_result=True)
def tick() -> None:
    """Its pulse shows that the whole way is open: beat, Redis, a worker of the clock, the database."""
    ticks.run_due_ticks()
    pulse("schedule", timezone.now())


@heartbeat_sent.connect
def show_alive(sender: Any, **_: Any) -> None:
    """A worker that hears its broker says so under its own name and its host's, such as “worker jobs@one”."""
    try:
        pulse(f"worker {sender.eventer.hostname}", timezone.now())
    finally:
        connections.close_all()  # processes are forked from this one; none is to inherit a connection


def fill(queue: str, task: Any, due_ids: Callable[[int], list[int]]) -> int:
    """Send ids to a queue that is nearly empty, and none to one whose worker has enough or is away: how many."""
    if current_app.waiting(queue) >= NEARLY_EMPTY:
        return 0
    ids = due_ids(FULL)
    for pk in ids:
        task.delay(pk)
    return len(ids)
