"""Booking one appointment, against the bare statements that it must write; offers, against their one bare query.

    python -m tests.benchmarks.booking [TURNS]

With DATABASE_URL it measures there, else on SQLite in a file. Both sides of a pair take turns in one run. The bare
statements write the very rows that the act wrote, one statement for each row, in one transaction.
"""

import os
import statistics
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock
from typing import Any
from uuid import uuid4

import django

TODAY = date(2026, 4, 1)
NOW = datetime.combine(TODAY, clock(7), tzinfo=UTC)
GOAL = 2.2
SIZES = (10, 1_000, 10_000)


def timed(do: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the wall clock, and of this process's own work."""
    wall, own = time.perf_counter(), time.process_time()
    do()
    return time.perf_counter() - wall, time.process_time() - own


def ratios(name: str, pairs: list[tuple[tuple[float, float], tuple[float, float]]], goal: str = "") -> None:
    for place, what in enumerate(("wall clock", "own work")):
        left, right = (statistics.median(each[side][place] for each in pairs) for side in (0, 1))
        print(f"{name} by {what}: {left / right:.2f} ({1000 * left:.1f} / {1000 * right:.1f} ms){goal}")


class Recorder:
    """The changes and deletions of a piece of work, as statements with their values."""

    def __init__(self) -> None:
        self.writes: list[tuple[str, Any]] = []

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.split()[0] in ("UPDATE", "DELETE"):
            self.writes += [(sql, each) for each in (params if many else [params])]
        return execute(sql, params, many, context)


def booking(turns: int) -> None:
    from django.db import connection

    from caseload.models import Staff
    from tests.scenario import fernhollow

    clinic = fernhollow()
    Staff.objects.update(demo=True)  # where nobody is real, the trail may be wiped
    session = clinic.session(date(2026, 4, 2), start=480, end=1080)
    places = [slot.minute for slot in session.slots.all()]
    pairs, size = [], 0
    for turn in range(turns + 2):
        row = clinic.episode().follow_ups.get(key="stitches-out")
        pair, size = booked(clinic, row, session, places[turn % len(places)])
        pairs.append(pair)
    print(f"{connection.vendor}: {size} statements write one booking")
    ratios("book / bare statements", pairs[2:], f", goal {GOAL}")


def booked(clinic: Any, row: Any, session: Any, start: int) -> tuple[tuple, int]:
    """Book, look what that wrote, take it away, and write the very same by bare statements."""
    from django.db import connection, transaction

    from caseload.actions import appointments
    from caseload.actions.act import By
    from caseload.models import Appointment, Notice, Purpose, Seat, Standing, Submission, TrailEntry, UndoStep

    entries = set(TrailEntry.objects.values_list("pk", flat=True))
    by, record = By(clinic.admin, NOW, TODAY, uuid4()), Recorder()

    def act() -> None:
        with connection.execute_wrapper(record):
            appointments.book([row], by=by, session=session, start=start)

    act_time = timed(act)
    written = [
        *Submission.objects.all(), *Appointment.objects.all(), *Purpose.objects.all(), *Seat.objects.all(),
        *UndoStep.objects.all(), *Notice.objects.all(), *Standing.objects.filter(episode=row.episode),
        *TrailEntry.objects.exclude(pk__in=entries),
    ]  # fmt: skip
    statements = [*record.writes, *map(inserted, written)]
    clear()
    TrailEntry.objects.exclude(pk__in=entries).delete()

    def bare() -> None:
        with transaction.atomic(), connection.cursor() as cursor:
            for sql, params in statements:
                cursor.execute(sql, params)

    bare_time = timed(bare)
    clear()
    return (act_time, bare_time), len(statements)


def inserted(row: Any) -> tuple[str, list]:
    """The statement that writes this row, its key included."""
    from django.db import connection

    fields = row._meta.concrete_fields
    columns = ", ".join(f'"{field.column}"' for field in fields)
    values = [field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields]
    marks = ", ".join(["%s"] * len(fields))
    return f'INSERT INTO "{row._meta.db_table}" ({columns}) VALUES ({marks})', values


def clear() -> None:
    from caseload.models import Appointment, Notice, Submission

    Notice.objects.all().delete()
    Appointment.objects.all().delete()
    Submission.objects.all().delete()


def offers(turns: int) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from caseload.models import Session
    from caseload.reads.openings import offers_for
    from tests.scenario import Fernhollow, fernhollow

    clinic: Fernhollow = fernhollow()
    row = clinic.episode().follow_ups.select_related("episode__site", "patient").get(key="stitches-out")
    for size in SIZES:
        fill(clinic, size - Session.objects.count())
        with CaptureQueriesContext(connection) as asked:
            offers_for([row], at=NOW)
        (sql,) = [each["sql"] for each in asked.captured_queries]
        pairs = [(timed(lambda: offers_for([row], at=NOW)), timed(lambda: fetch(sql))) for _ in range(turns)]  # noqa: B023
        found = len(fetch(sql))
        ratios(f"offers / bare query, {size} sessions, {found} free slots in reach, 1 query", pairs)


def fetch(sql: str) -> list:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(sql.replace("%", "%%") if connection.vendor == "postgresql" else sql)
        return cursor.fetchall()


def fill(clinic: Any, wanted: int) -> None:
    """So many sessions of ten slots, one a day and therapist, over a year; every second one is full."""
    from caseload.models import Session, Slot, Staff
    from caseload.timetable.terms import Way

    days = [TODAY + timedelta(days=ahead) for ahead in range(-300, 60)]
    days = [day for day in days if day.weekday() < 5]
    made = []
    while len(made) < wanted:
        number = Staff.objects.count()
        therapist = Staff.objects.create(username=f"t{number}", name=f"T {number}", password=None, is_therapist=True)
        made += [
            Session(therapist=therapist, site=clinic.site, on=day, start_minute=540, end_minute=740, changed=True,
                    ways=[str(way) for way in Way])
            for day in days[: wanted - len(made)]
        ]  # fmt: skip
    Session.objects.bulk_create(made, batch_size=500)
    Slot.objects.bulk_create(
        (
            Slot(session=session, therapist_id=session.therapist_id, on=session.on, minute=minute,
                 held_why="" if number % 2 else "full")
            for number, session in enumerate(made) for minute in range(540, 740, 20)
        ),
        batch_size=500,
    )  # fmt: skip


def main(turns: int) -> None:
    from django.core.management import call_command

    booking(turns)
    call_command("flush", interactive=False, verbosity=0)
    offers(turns)


def measured(main: Callable[[int], object], turns: int) -> None:
    """Run `main` on a database of its own, which is gone afterwards."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    django.setup()
    from django.db import connection

    if connection.vendor == "sqlite":
        import tempfile

        connection.settings_dict["TEST"]["NAME"] = f"{tempfile.mkdtemp()}/measure.sqlite3"
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        main(turns)
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)


if __name__ == "__main__":
    measured(main, int(sys.argv[1]) if len(sys.argv) > 1 else 25)
