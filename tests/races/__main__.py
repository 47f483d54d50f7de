"""Sixteen processes race for the same slots through HTTP.

    python -m tests.races [--rounds 10000] [--database sqlite|postgresql|URL]

Ends with 1 and the first thing that was wrong, else says how long a round took and the longest wait.
"""

import argparse
import os
import resource
import statistics
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.races.ground import Ground, database, prepare, served
from tests.races.racers import Field

WRONG = ("Traceback", "locked", "deadlock", " ERROR ", "CRITICAL")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=10_000)
    asked.add_argument("--database", default="sqlite")
    said = asked.parse_args()
    with database(said.database) as (url, folder):
        os.environ |= {
            "DATABASE_URL": url, "CASELOAD_DATA_FOLDER": str(folder), "REDIS_URL": "", "CASELOAD_HTTPS": "false",
            "CASELOAD_DEBUG": "false", "CASELOAD_DATABASE_POOL": "false",
            "DJANGO_SETTINGS_MODULE": "clinic.settings",
        }  # fmt: skip
        run(said.rounds, folder)


def run(rounds: int, folder: Path) -> None:
    import django

    django.setup()
    from django.db import connections

    prepare()
    ground = Ground()
    connections.close_all()
    from tests.races.rounds import Race

    try:
        with served(folder) as (port, log), Field(port) as field:
            race, began = Race(ground, field), time.monotonic()
            race.run(rounds)
            seconds = time.monotonic() - began
        said = log.read_text()
        assert not any(word in said for word in WRONG), said[-4000:]
        settled()
        waits = sorted(race.waits)
        worked = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(f"{rounds} rounds ({dict(race.rounds)}), {len(waits)} forms in {seconds:.0f} s: median "
              f"{statistics.median(waits):.2f} s, one in a hundred over {waits[-len(waits) // 100]:.2f} s, longest "
              f"{waits[-1]:.2f} s; {worked.ru_utime + worked.ru_stime:.0f} s of work.")  # fmt: skip
    except AssertionError as wrong:
        sys.exit(f"After {race.rounds}: {wrong}")
    finally:
        connections.close_all()


def settled() -> None:
    """What is stored equals what is derived; every seat belongs to an appointment that needs it, and to no other."""
    from caseload.actions.act import By
    from caseload.actions.rederive import rederive
    from caseload.booking.slots import slots_for
    from caseload.models import Appointment, Seat

    now = datetime.now(tz=UTC)
    assert rederive(by=By(None, now, now.date()), mend=False).moved == {}, "stored is not what is derived"
    wanted = {
        (each.session_id, minute) for each in Appointment.objects.filter(live=True, session__isnull=False)
        for minute in slots_for(each.start_minute, each.minutes)
    }  # fmt: skip
    seats = list(Seat.objects.values_list("slot__session", "slot__minute"))
    assert len(seats) == len(wanted) and set(seats) == wanted, "seats are not those of the appointments"


main()
