"""How soon background work begins, and what it costs while there is nothing to do.

    python -m tests.benchmarks.background [JOBS] [SECONDS]

First the one process that polls its rows on SQLite, then, where both are installed, PostgreSQL and Redis with the
workers and the schedule that `start` runs. So many jobs (60 unless said) are asked for, one after another at odd
moments; from the row to its end is what a clock on the wall says. Idle is measured over so many seconds (30): the share
of one core, and memory by its proportional share (PSS), each of all processes together.
"""

import os
import random
import statistics
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from tests import scratch
from tests.benchmarks import table
from tests.benchmarks.measuring import p95
from tests.drills.members import Member, Supervisor, wait_for

TICKS: Final = os.sysconf("SC_CLK_TCK")
HEAD: Final = ("Processes", "Jobs", "Row to done p50 / p95 s", "Reached before", "Idle, of one core",
               "Memory (PSS) MiB")  # fmt: skip
REACHED: Final = {1: (0.28, 0.53), 4: (0.6, 0.93)}
"""By the number of processes, seconds of a trial of the same design, as a yardstick."""


def family(pid: int) -> list[int]:
    """A process and all that it started."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [pid, *(each for child in children for each in family(int(child)))]


def processor(pids: list[int]) -> float:
    """Seconds of processor that they have had."""
    fields = (Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split() for pid in pids)
    return sum(int(each[11]) + int(each[12]) for each in fields) / TICKS


def memory(pids: list[int]) -> float:
    texts = (Path(f"/proc/{pid}/smaps_rollup").read_text() for pid in pids)
    return sum(int(line.split()[1]) for text in texts for line in text.splitlines() if line.startswith("Pss:")) / 1024


def waited(count: int) -> list[float]:
    """Seconds from the row of each job to its end. The job finds an empty trail whole, which takes no time."""
    from django.utils import timezone

    from caseload.actions.trail_files import PROOF
    from caseload.models import Job

    chance, keys = random.Random(1), []
    for _ in range(count):
        time.sleep(chance.uniform(0.3, 1.3))
        keys.append(Job.objects.create(kind=PROOF, created_at=timezone.now()).pk)
    asked = Job.objects.filter(pk__in=keys)
    wait_for(lambda: not asked.filter(ended_at=None).exists(), "the jobs are done")
    times = asked.values_list("created_at", "ended_at")
    return [(ended - created).total_seconds() for created, ended in times if ended]


def measure(jobs: int, seconds: float) -> None:
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection

    from caseload.management.commands import start

    call_command("migrate", verbosity=0)
    with Supervisor() as keeper:
        for name, command in start.background().items():
            keeper.add(Member(name, command, Path(settings.DATA_FOLDER), os.environ))
        waited(3)
        pids = [each for member in keeper.members.values() for each in family(member.pid)]
        had, began = processor(pids), time.monotonic()
        time.sleep(seconds)
        idle, most = (processor(pids) - had) / (time.monotonic() - began), memory(pids)
        took = waited(jobs)
    many = len(keeper.members)
    before = " / ".join(map(str, REACHED[many]))
    asked = f"{statistics.median(took):.2f} / {p95(took):.2f}"
    kind = f"{connection.vendor}, {'Redis, ' if settings.REDIS_URL else ''}{many}"
    print(table.line(kind, jobs, asked, before, f"{idle:.1%}", f"{most:.0f}"), flush=True)


def main(jobs: str, seconds: str) -> None:
    print(table.head(*HEAD), flush=True)
    command = [sys.executable, "-m", "tests.benchmarks.background", jobs, seconds, "inside"]
    plain = {name: value for name, value in os.environ.items() if not name.startswith("CASELOAD_")}
    plain |= {"DJANGO_SETTINGS_MODULE": "clinic.settings", "CASELOAD_LOG_LEVEL": "ERROR",
              "CASELOAD_MAIL_URL": "folder:"}  # fmt: skip
    with TemporaryDirectory() as home:
        told = plain | {"DATABASE_URL": f"sqlite:///{home}/caseload.sqlite3", "REDIS_URL": "",
                        "CASELOAD_DATA_FOLDER": home}  # fmt: skip
        subprocess.run(command, env=told, check=True)
        if scratch.find("initdb") and scratch.find("redis-server"):
            with scratch.postgresql() as url, scratch.redis() as broker:
                subprocess.run(command, env=told | {"DATABASE_URL": url, "REDIS_URL": broker}, check=True)


if __name__ == "__main__":
    wanted = sys.argv[1:3] + ["60", "30"][len(sys.argv) - 1 :]
    if sys.argv[3:]:
        measure(int(wanted[0]), float(wanted[1]))
    else:
        main(*wanted)
