"""How long others wait for the write lock of SQLite while a theatre list of 10,000 rows is uploaded and taken in.

    python -m tests.benchmarks.waiting [ROWS]

Another process logs a call every 50 ms; the longest wait of each stretch is printed. The list is taken in behind the
pages, in portions, and then another like it in one transaction, as a short list is.
"""

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TypeVar

import django
from django.utils import timezone

from tests.benchmarks import fresh
from tests.benchmarks.fresh import NOW, TODAY

PAUSE = 0.05
T = TypeVar("T")


def call(name: str) -> None:
    """Log calls for ever, and print when each began and how long it took."""
    from django.db import connection

    connection.settings_dict["NAME"] = name
    from caseload.actions import contacts
    from caseload.actions.act import By
    from caseload.models import Patient, Staff

    connection.settings_dict["OPTIONS"]["timeout"] = 120
    patient, person = Patient.objects.order_by("id").first(), Staff.objects.order_by("id").first()
    assert patient
    while True:
        now, began = timezone.now(), time.perf_counter()
        contacts.log(patient, by=By(person, now, timezone.localdate(now)), how="phone", reached="no-answer")
        print(now.timestamp(), time.perf_counter() - began, flush=True)
        time.sleep(PAUSE)


def during(what: str, do: Callable[[], T], name: str) -> T:
    """Do it beside a writer, and print the writer's waits."""
    beside = [sys.executable, "-m", "tests.benchmarks.waiting", "--beside", name]
    with subprocess.Popen(beside, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout
        writer.stdout.readline()
        began = datetime.now(UTC)
        came = do()
        took = (datetime.now(UTC) - began).total_seconds()
        time.sleep(1)
        writer.terminate()
        waits = [float(line.split()[1]) for line in writer.stdout if float(line.split()[0]) > began.timestamp() - 1]
    print(
        f"{what}: {took:.1f} s; another writer got through {len(waits)} times and waited at most {max(waits):.2f} s, "
        f"in the median {statistics.median(waits):.3f} s"
    )
    return came


def main(rows: int, name: str) -> None:
    from caseload.actions import confirming, contacts, intake, jobs
    from caseload.actions.act import By
    from caseload.models import IntakeBatch
    from tests.benchmarks.intake import listing
    from tests.scenario import fernhollow

    clinic = fernhollow()
    by = By(clinic.lead, NOW, TODAY)
    contacts.log(clinic.patient(), by=by, how="phone", reached="no-answer")

    def uploaded(data: bytes) -> IntakeBatch:
        return during(f"{rows} rows read and kept", lambda: intake.upload(data, file_name="long.csv", by=by), name)

    job = confirming.ask_confirm(uploaded(listing(rows)), by=by, version=None)
    during("taken in, in portions", lambda: jobs.run_job(job.pk), name)
    job.refresh_from_db()
    print(job.state, job.answer)
    batch = uploaded(listing(rows, seed=2).replace(b"QS", b"RS"))
    during("taken in, at once", lambda: confirming.confirm(batch, by=by, version=None), name)


if __name__ == "__main__":
    os.environ["DATABASE_URL"] = ""
    if sys.argv[1:2] == ["--beside"]:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
        django.setup()
        call(sys.argv[2])
    with fresh.database() as name:
        main(int(sys.argv[1]) if sys.argv[1:] else 10_000, name)
