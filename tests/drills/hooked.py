"""A background process of the planner with three things added, as a drill wants it: `python -m tests.drills.hooked
celery …` or `… manage.py background`.

- a kind of job whose every step writes one row together with how far it is: run twice, it would write two;
- a tick every second, which writes one row for each time it ran;
- DRILL_CLAIM_SECONDS, where it is set, instead of the two minutes of a claim: for the short forms.
"""

import os
import runpy
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

import django
from django.db import transaction
from django.utils import timezone

ROOT = Path(__file__).resolve().parents[2]
STEPS = 12
STEP_SECONDS = 0.1
JOB = "drill"
TICK = "drill.tick"
HOST = os.environ.get("DRILL_HOST", "here")


def add_what_drills_need() -> None:
    from caseload.actions import jobs, notices, ticks

    if seconds := os.environ.get("DRILL_CLAIM_SECONDS"):
        jobs.CLAIM = notices.CLAIM = timedelta(seconds=int(seconds))  # type: ignore[misc]
    jobs.kind(JOB)(work)
    ticks.SCHEDULE[JOB] = (ticks.Rhythm(timedelta(seconds=1)), tick)


def tick(now: datetime) -> None:
    from caseload.models import TrailEntry

    TrailEntry.objects.create(at=now, by=None, act=TICK, subject="tick", subject_id=int(now.timestamp()))


def work(job):
    """Each step is one contact, which says whose step it is and which host did it."""
    from caseload.actions import contacts
    from caseload.actions.act import By
    from caseload.actions.jobs import reach
    from caseload.actions.turns import in_turn
    from caseload.models import Patient

    patient = Patient.objects.get(pk=job.asked["patient"])
    for step in range(job.reached.get("step", 0), STEPS):
        yield step, STEPS
        now = timezone.now()
        with in_turn(), transaction.atomic():
            text = f"job {job.pk} step {step} on {HOST}"
            contacts.log(patient, by=By(job.by, now, now.date()), how="phone", reached="spoke", text=text)
            reach(job, step=step + 1)
        time.sleep(STEP_SECONDS)
    return f"{STEPS} steps"


if __name__ == "__main__":
    django.setup()
    add_what_drills_need()
    sys.argv = sys.argv[1:]
    if sys.argv[0] == "celery":
        runpy.run_module("celery", run_name="__main__", alter_sys=True)
    else:
        runpy.run_path(str(ROOT / sys.argv[0]), run_name="__main__")
