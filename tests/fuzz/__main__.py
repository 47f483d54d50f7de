"""Random requests over every address, form and filter, as each role.

    python -m tests.fuzz [REQUESTS] [--seed N] [--role therapist|admin|lead|nobody]

100,000 unless said otherwise, on a SQLite database of its own. Ends with 1 and the first thing that was wrong, with its
seed; else says how many requests a second were answered, and with which statuses.
"""

import argparse
import logging
import os
import sys
import tempfile
import time
import traceback
from pathlib import Path
from random import randrange


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("requests", type=int, nargs="?", default=100_000)
    asked.add_argument("--seed", type=int, default=randrange(2**32))
    asked.add_argument("--role", choices=["therapist", "admin", "lead", "nobody"])
    said = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="caseload-fuzz-") as folder:
        os.environ |= {
            "DATABASE_URL": f"sqlite:///{folder}/fuzz.sqlite3", "CASELOAD_DATA_FOLDER": folder, "REDIS_URL": "",
            "CASELOAD_HTTPS": "false", "CASELOAD_DEBUG": "false", "CASELOAD_LOG_LEVEL": "CRITICAL",
            "DJANGO_SETTINGS_MODULE": "clinic.settings",
        }  # fmt: skip
        run(said.requests, said.seed, said.role, Path(folder))


def run(requests: int, seed: int, role: str | None, folder: Path) -> None:
    import django

    django.setup()
    import time_machine
    from django.conf import settings
    from django.core.management import call_command
    from django.db import transaction
    from django.test.utils import setup_test_environment

    setup_test_environment()
    logging.disable()
    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.STATIC_ROOT = folder
    call_command("migrate", verbosity=0)
    from caseload.timetable.terms import Owner
    from tests.fuzz.asking import NOW, ROLES, Fuzz
    from tests.web.policy_clinic import world

    roles = (None if role == "nobody" else Owner(role),) if role else ROLES
    print(f"seed {seed}", flush=True)
    with time_machine.travel(NOW, tick=False), transaction.atomic():
        fuzz, began = Fuzz(world(), seed, roles), time.perf_counter()
        try:
            fuzz.run(requests)
        except AssertionError as wrong:
            traceback.print_exception(wrong.__cause__ or wrong)
            sys.exit(str(wrong))
        transaction.set_rollback(True)
    say(fuzz, time.perf_counter() - began)


def say(fuzz: "object", seconds: float) -> None:
    from tests.fuzz.asking import Fuzz

    assert isinstance(fuzz, Fuzz)
    total = fuzz.statuses.total()
    print(f"{total} requests to {len(fuzz.met)} addresses in {seconds:.0f} s, {total / seconds:.0f} a second")
    for (role, status), count in sorted(fuzz.statuses.items()):
        print(f"  {role:<10} {status}  {count}")


if __name__ == "__main__":
    main()
