"""Eight people who write at once, for some time: who waited longest, whether all got through alike, and what failed.

Each logs calls one after another through the act, in a process of its own: nothing in between but the database.
"""

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Final, NamedTuple

from django.db import OperationalError, connection
from django.utils import timezone

from caseload.actions import contacts
from caseload.actions.act import By
from caseload.models import Patient, Staff
from tests.benchmarks.table import met

WRITERS: Final = 8


class Written(NamedTuple):
    """How long each call of one person took, in seconds, and how many failed."""

    waits: list[float]
    failed: int


def main(size: str, seconds: str, into: str, number: str = "") -> None:
    if number:
        print(json.dumps(write(int(number), float(seconds))))
        return
    found = together([sys.executable, "-m", "tests.benchmarks.size.inside", "writers", size, seconds, into])
    waits = [wait for each in found for wait in each.waits]
    through = [len(each.waits) for each in found]
    failed = sum(each.failed for each in found)
    fair, longest = min(through) / max(through), max(waits)
    good = failed == 0 and longest <= 1 and fair >= 0.8
    row = {"Work": f"{WRITERS} writers for {float(seconds):.0f} s", "Open": f"{int(size):,}",
           "Database": connection.vendor,
           "Ours": f"{len(waits):,} written, p50 {1000 * statistics.median(waits):.0f} ms, longest {longest:.2f} s, "
                   f"{failed} failed",
           "Floor": "", "Ratio": f"fair within {fair:.2f}", "Goal": "longest ≤ 1 s, 0 locked, fair within 0.8",
           "Memory MB": "", "Met": met(good)}  # fmt: skip
    print(row, flush=True)
    Path(into).write_text(json.dumps([row]))


def together(command: list[str]) -> list[Written]:
    """Everybody begins once all are ready."""
    people = [
        subprocess.Popen([*command, str(each)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for each in range(1, WRITERS + 1)
    ]
    for person in people:
        assert person.stdout
        person.stdout.readline()
    for person in people:
        assert person.stdin
        person.stdin.write("go\n")
        person.stdin.flush()
    return [Written(*json.loads(person.communicate()[0])) for person in people]


def write(number: int, seconds: float) -> Written:
    person, failed, waits = Staff.objects.get(username="maureen"), 0, list[float]()
    patients = list(Patient.objects.order_by("-id")[number * 100 : number * 100 + 100])
    print("ready", flush=True)
    sys.stdin.readline()
    over = time.monotonic() + seconds
    while time.monotonic() < over:
        now, began = timezone.now(), time.monotonic()
        by = By(person, now, timezone.localdate(now))
        try:
            contacts.log(patients[len(waits) % len(patients)], by=by, how="phone", reached="no-answer")
            waits.append(time.monotonic() - began)
        except OperationalError:
            failed += 1
    return Written(waits, failed)
