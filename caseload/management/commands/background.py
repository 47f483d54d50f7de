"""Background work without a broker: one thread sends notices, one runs due jobs, one keeps the clock of the schedule.

Every half second each looks at its rows in the database. What is claimed when this process is killed is taken up again
when the claim expires.
"""

import logging
import signal
import threading
import time
from collections.abc import Callable
from typing import Any

from django.core.management.base import BaseCommand
from django.db import close_old_connections, connections
from django.utils import timezone

from caseload.actions.jobs import run_due_jobs
from caseload.actions.pulses import pulse
from caseload.actions.ticks import run_due_ticks
from caseload.outreach.post import Came, send_due

logger = logging.getLogger(__name__)

POLL_SECONDS = 0.5
BREATH_SECONDS = 0.02  # between rows: it halves the waiting of the pages during a burst
LONGEST_PAUSE_SECONDS = 30.0
GRACE_SECONDS = 8


class Command(BaseCommand):
    help = (
        "Send due notices, run due jobs and keep the schedule until Ctrl-C or SIGTERM. "
        "`start` runs this for you when there is no REDIS_URL."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        stop = threading.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: stop.set())
        work: dict[str, Callable[[], int]] = {
            "notices": send_one,
            "jobs": lambda: run_due_jobs(limit=1),
            "clock": lambda: run_due_ticks(),
        }
        # Daemons: what outlasts the grace is left to its claim, and the process ends all the same.
        threads = [threading.Thread(target=keep_at, args=(name, do, stop), daemon=True) for name, do in work.items()]
        for thread in threads:
            thread.start()
        stop.wait()
        until = time.monotonic() + GRACE_SECONDS
        for thread in threads:
            thread.join(max(0, until - time.monotonic()))


def send_one() -> int:
    """Send a notice that is due; none counts as sent while the server is away, so that it is left in peace a while."""
    return len([came for came in send_due(limit=1) if came is not Came.UNREACHABLE])


def keep_at(name: str, do: Callable[[], int], stop: threading.Event) -> None:
    """Do due work until `stop`, at once again after a row, less and less often while it fails."""
    failures = 0
    while not stop.is_set():
        try:
            pulse(f"background {name}", timezone.now())
            pause = BREATH_SECONDS if do() else POLL_SECONDS
            failures = 0
        except Exception:
            # Whatever it is, a background process that ended here would be deaf from then on; the line says it.
            failures += 1
            pause = min(POLL_SECONDS * 2**failures, LONGEST_PAUSE_SECONDS)
            logger.exception("The %s failed; trying again in %s s", name, pause)
        close_old_connections()
        stop.wait(pause)
    connections.close_all()
