"""Backup and restore against bare reading of the same rows, and how long a writer waits for a backup.

    python -m tests.benchmarks.backup FILE [TURNS]

FILE is a backup, of the demo for instance. It is restored into a new SQLite file and, where PostgreSQL is installed,
into a scratch server; the tables are there before, since making them takes the same time for any number of rows.
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING

import django

from tests import scratch
from tests.benchmarks.measuring import timed

if TYPE_CHECKING:
    from caseload.management.keeping.heading import Heading


def seconds(do: Callable[[], object], turns: int = 1) -> float:
    return statistics.median(timed(do).wall for _ in range(turns))


def measure(name: str, url: str, file: Path, folder: Path, turns: int) -> None:
    from django.utils import timezone

    from caseload.management.commands.backup import save
    from caseload.management.keeping.files import check
    from caseload.management.keeping.restore import restore
    from tests.house.keeping import at

    heading = check(file).heading
    with at(url):
        loading = seconds(lambda: restore(file, now=timezone.now(), hold=False))
        saving = seconds(lambda: save(folder / name, replace=True), turns)
        reading = seconds(lambda: read_bare(heading), turns)
    same = (folder / name).read_bytes() == file.read_bytes()
    print(f"{name}: {heading.rows:,} rows; the same bytes again: {'yes' if same else 'NO'}")
    print(f"  restore, compared with the file: {heading.rows / loading:,.0f} rows a second ({loading:.2f} s)")
    print(f"  backup, read back: {heading.rows / saving:,.0f} rows a second ({saving:.2f} s)")
    print(f"  backup / bare reading: {saving / reading:.1f}")


def read_bare(heading: "Heading") -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        for table in heading.tables:
            cursor.execute(f"SELECT * FROM {table.name}")
            while cursor.fetchmany(1000):
                pass


def waits(url: str, folder: Path, turns: int) -> None:
    """The longest act of somebody who writes all the while, without backups and with one after the other."""
    from django.db import connection

    from caseload.management.commands.backup import save
    from caseload.management.keeping.snapshot import copy_file
    from tests.house.keeping import at

    with at(url):
        one = seconds(lambda: save(folder / "once", replace=True))
        alone = longest_act(url, lambda: time.sleep(one * turns))
        beside = longest_act(url, lambda: seconds(lambda: save(folder / "busy", replace=True), turns))
        source = Path(connection.settings_dict["NAME"])
        copying = seconds(lambda: copy_file(source, folder / "copy"), turns)
    print(f"a writer on SQLite, {source.stat().st_size / 1e6:.1f} MB, {turns} backups of {one:.2f} s each:")
    for words, taken in (("without a backup", alone), ("beside backups", beside)):
        print(f"  {words}: {len(taken)} acts, median {statistics.median(taken):.3f} s, longest {max(taken):.3f} s")
    print(f"  the copy for which writers wait takes {copying:.3f} s")


def longest_act(url: str, meanwhile: Callable[[], object]) -> list[float]:
    from caseload.actions import patients
    from tests.house.keeping import at
    from tests.scenario import by

    stop, taken = Event(), []

    def write() -> None:
        with at(url):
            while not stop.is_set():
                taken.append(seconds(lambda: patients.add(given="Ivo", family="Harrow", by=by())))

    writer = Thread(target=write)
    writer.start()
    try:
        meanwhile()
    finally:
        stop.set()
        writer.join()
    return taken


def main(file: Path, turns: int) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    django.setup()
    from django.core.management import call_command

    from tests.house.keeping import at, new_sqlite

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="caseload-backup-")))
        url = new_sqlite(folder / "caseload.sqlite3")
        measure("SQLite", url, file, folder, turns)
        waits(url, folder, turns)
        if scratch.find("initdb"):
            server = stack.enter_context(scratch.postgresql())
            with at(server):
                call_command("migrate", verbosity=0)
            measure("PostgreSQL", server, file, folder, turns)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 5)
