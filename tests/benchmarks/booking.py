"""Booking one appointment, against the bare statements that it must write; offers, against their one bare query.

    python -m tests.benchmarks.booking [TURNS]

With DATABASE_URL it measures there, else on SQLite in a file. Both sides of a pair take turns in one run. The bare
statements write the very rows that the act wrote, one statement for each row, in one transaction.
"""

import sys
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from django.db import connection, transaction

from tests.benchmarks import fresh
from tests.benchmarks.fresh import NOW, TODAY
from tests.benchmarks.measuring import Took, ratios, timed
from tests.benchmarks.statements import Recorder, Statement, execute, inserted

if TYPE_CHECKING:
    from caseload.models import FollowUp, Session
    from tests.scenario import Fernhollow

GOAL = 2.2
SIZES = (10, 1_000, 10_000)


def booking(turns: int) -> None:
    from caseload.models import Staff
    from tests.scenario import fernhollow

    clinic = fernhollow()
    Staff.objects.update(demo=True)  # where nobody is real, the trail may be wiped
    clinic.admin.refresh_from_db()
    session = clinic.session(date(2026, 4, 2), start=480, end=1080)
    places = [slot.minute for slot in session.slots.all()]
    pairs, size = [], 0
    for turn in range(turns + 2):
        row = clinic.episode().follow_ups.get(key="stitches-out")
        pair, size = booked(clinic, row, session, places[turn % len(places)])
        pairs.append(pair)
    print(f"{connection.vendor}: {size} statements write one booking")
    ratios("book / bare statements", pairs[2:], f", goal {GOAL}")


def booked(
    clinic: "Fernhollow", row: "FollowUp", session: "Session", start: int
) -> tuple[tuple[Took[object], Took[object]], int]:
    """Book, look what that wrote, take it away, and write the very same by bare statements."""
    from caseload.actions import appointments
    from caseload.actions.act import By
    from caseload.models import Appointment, Notice, Purpose, Seat, Standing, Submission, TrailEntry, UndoStep

    entries = set(TrailEntry.objects.values_list("pk", flat=True))
    by, record = By(clinic.admin, NOW, TODAY, uuid4()), Recorder()

    with connection.execute_wrapper(record):
        act_time = timed(lambda: appointments.book([row], by=by, session=session, start=start))
    written = [
        *Submission.objects.all(), *Appointment.objects.all(), *Purpose.objects.all(), *Seat.objects.all(),
        *UndoStep.objects.all(), *Notice.objects.all(), *Standing.objects.filter(episode=row.episode),
        *TrailEntry.objects.exclude(pk__in=entries),
    ]  # fmt: skip
    statements = [*record.writes, *map(inserted, written)]
    clear()
    TrailEntry.objects.exclude(pk__in=entries).delete()

    bare_time = timed(lambda: at_once(statements))
    clear()
    return (act_time, bare_time), len(statements)


def at_once(statements: list[Statement]) -> None:
    with transaction.atomic():
        execute(statements)


def clear() -> None:
    from caseload.models import Appointment, Notice, Submission

    Notice.objects.all().delete()
    Appointment.objects.all().delete()
    Submission.objects.all().delete()


def offers(turns: int) -> None:
    from django.test.utils import CaptureQueriesContext

    from caseload.models import Session
    from caseload.reads.openings import offers_for
    from tests.scenario import fernhollow

    clinic = fernhollow()
    row = clinic.episode().follow_ups.select_related("episode__site", "patient").get(key="stitches-out")
    for size in SIZES:
        fill(clinic, size - Session.objects.count())
        with CaptureQueriesContext(connection) as asked:
            offers_for([row], at=NOW)
        (sql,) = [each["sql"] for each in asked.captured_queries]
        pairs = [(timed(lambda: offers_for([row], at=NOW)), timed(lambda: fetch(sql))) for _ in range(turns)]  # noqa: B023
        found = len(fetch(sql))
        ratios(f"offers / bare query, {size} sessions, {found} free slots in reach, 1 query", pairs)


def fetch(sql: str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql.replace("%", "%%") if connection.vendor == "postgresql" else sql)
        return list(cursor.fetchall())


def fill(clinic: "Fernhollow", wanted: int) -> None:
    """So many sessions of ten slots, one a day and therapist, over a year; every second one is full."""
    from caseload.models import Session, Slot, Staff
    from caseload.timetable.terms import Way

    days = [day for ahead in range(-300, 60) if (day := TODAY + timedelta(days=ahead)).weekday() < 5]
    made: list[Session] = []
    while len(made) < wanted:
        number = Staff.objects.count()
        therapist = Staff.objects.create(username=f"t{number}", name=f"T {number}", is_therapist=True)
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


if __name__ == "__main__":
    with fresh.database():
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 25)
