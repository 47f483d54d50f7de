"""One pass over everything that is due, for a machine that keeps no process running: a timer can call it.

Safe to run twice, and beside `background` or Celery workers: each row is claimed by whoever works it.
"""

import logging
from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import ngettext

from caseload.actions import jobs
from caseload.actions.ticks import run_due_ticks
from caseload.outreach.post import Came, send_due

AT_A_TIME = 100

logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Do once what is due of the schedule, the notices and the jobs, say how much it was, and end."

    def handle(self, *args: Any, **options: Any) -> None:
        ticks, came = run_due_ticks(), send_all()
        done, failed = run_all()
        sent, away = came.count(Came.SENT), came.count(Came.UNREACHABLE)
        said = [
            ngettext("%d tick", "%d ticks", ticks) % ticks,
            ngettext("%d e-mail sent", "%d e-mails sent", sent) % sent,
            ngettext("%d job", "%d jobs", done) % done,
        ]
        not_sent = len(came) - sent - away - came.count(Came.WITHDRAWN)
        said += [ngettext("%d e-mail not sent", "%d e-mails not sent", not_sent) % not_sent] if not_sent else []
        said += [ngettext("%d job failed", "%d jobs failed", failed) % failed] if failed else []
        self.stdout.write(", ".join(said) + ".")
        if away:
            self.stdout.write("The mail server could not be reached: the rest waits for the next pass.")


def send_all() -> list[Came]:
    """Until nothing is due or the server is away. Each failure is tried again later, so this ends."""
    came: list[Came] = []
    while found := send_due(AT_A_TIME):
        came += found
        if came[-1] is Came.UNREACHABLE:
            break
    return came


def run_all() -> tuple[int, int]:
    """How many jobs were run, and how many failed; one that fails holds up no other, and is tried again later."""
    done = failed = 0
    for job_id in jobs.due_ids(AT_A_TIME):
        try:
            done += jobs.run_job(job_id)
        except Exception:
            failed += 1
            logger.exception("A job failed")
    return done, failed
