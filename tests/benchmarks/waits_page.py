"""The page of the waits over a year of 100,000, against the bare question of the database and against an empty page.

    python -m tests.benchmarks.waits_page [TURNS] [WAITS]

On SQLite in a file and, where it is installed, on a scratch PostgreSQL; with DATABASE_URL there alone. Both sides of a
pair take turns in one run. The bare question counts the waits that are alike in their days, by one GROUP BY; the empty
page is the help page of somebody who is signed in. The goal is a page well under a second.
"""

import os
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from django.db import connection

from tests import scratch
from tests.benchmarks import fresh
from tests.benchmarks.fresh import NOW, TODAY
from tests.benchmarks.measuring import ratios, timed

if TYPE_CHECKING:
    from django.test import Client

YEAR = (date(2025, 4, 1), 365)
WAITS = 100_000
BARE = """SELECT started_on, stopped_on, ended, entered_on, due_on, COUNT(*) FROM caseload_wait WHERE clock = %s
GROUP BY started_on, stopped_on, ended, entered_on, due_on"""
CLOCKS = ("first-visit", "stitches-out")
PERIODS = ("month-2026-03", "last-12")


def fill(waits: int) -> None:
    """As many waits of each clock, of a year."""
    from caseload.waits.terms import Clock
    from tests.record.made_waits import made
    from tests.scenario import fernhollow

    clinic = fernhollow()
    since, days = YEAR
    surgeons = [f"Surgeon {letter}" for letter in "ABCDEFGH"]
    for place, clock in enumerate(CLOCKS):
        made(clinic, waits, since=since, days=days, until=TODAY, seed=place, clocks=[Clock(clock)], people=10,
             surgeons=surgeons, named=clock)  # fmt: skip
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def bare(clock: str) -> Callable[[], object]:
    def ask() -> object:
        with connection.cursor() as cursor:
            cursor.execute(BARE, [clock])
            return cursor.fetchall()

    return ask


def figures(clock: str, period: str) -> Callable[[], object]:
    from caseload.models import Staff
    from caseload.reads.waits import figures_of
    from caseload.web.forms.waits import waits_form

    form = waits_form({"clock": clock, "period": period}, staff=Staff(), today=TODAY)
    return lambda: figures_of(form.asked(), TODAY)


def main(turns: int, waits: int) -> None:
    import time_machine
    from django.core.management import call_command
    from django.test import Client
    from django.test.utils import setup_test_environment

    from caseload.models import Staff
    from tests.signed_in import session_of

    setup_test_environment()
    call_command("collectstatic", interactive=False, verbosity=0)
    fill(waits)
    client = Client()
    client.cookies["session"] = session_of(Staff.objects.get(username="lena"))
    with time_machine.travel(NOW, tick=True):
        for clock in CLOCKS:
            for period in PERIODS:
                pages = {
                    "figures / bare GROUP BY of the year": (figures(clock, period), bare(clock)),
                    "page / empty page": page_and_empty(client, f"/waits/?clock={clock}&period={period}"),
                    "patients / empty page": page_and_empty(
                        client, f"/waits/patients/?clock={clock}&period={period}&which=all"
                    ),
                }
                for name, (ours, other) in pages.items():
                    pairs = [(timed(ours), timed(other)) for _ in range(turns + 1)]
                    ratios(f"{connection.vendor}, {clock}, {period}: {name}", pairs[1:])


def page_and_empty(client: "Client", address: str) -> tuple[Callable[[], object], Callable[[], object]]:
    def ask(address: str) -> None:
        assert client.get(address).status_code == 200

    return lambda: ask(address), lambda: ask("/help/")


if __name__ == "__main__":
    with fresh.database():
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 5, int(sys.argv[2]) if len(sys.argv) > 2 else WAITS)
    if not os.environ.get("DATABASE_URL") and scratch.find("initdb"):
        with scratch.postgresql() as url:
            subprocess.run([sys.executable, "-m", "tests.benchmarks.waits_page", *sys.argv[1:]],
                           env=os.environ | {"DATABASE_URL": url}, check=True)  # fmt: skip
