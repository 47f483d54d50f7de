"""The long and the frequent pieces of work on a filled database, each against the bare statements that it comes to.

Everything is rolled back, so that a kept database stays as it is; only the writers leave their calls. Each piece runs
in a process of its own, whose memory is told beside: the most that it had, and how much more than when it began.
"""

import json
import os
import resource
import statistics
import subprocess
import sys
from collections.abc import Callable
from contextlib import contextmanager
from datetime import UTC, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.db import connection, transaction
from django.db.models import F, Max
from django.utils import timezone

from caseload import models as tables
from caseload.actions.act import By
from tests.benchmarks import booking, intake
from tests.benchmarks.booking import timed
from tests.benchmarks.table import met

DERIVED: Final = 5_000
LISTED: Final = 10_000
BOOKED: Final = 25
CHANGED: Final = 10
"""Of so many follow-ups one was written wrongly, and is mended."""
READ: Final = (
    tables.Episode, tables.FollowUp, tables.Finding, tables.SetReview, tables.Instruction, tables.Appointment,
    tables.Purpose, tables.Standing, tables.Wait, tables.Visit, tables.Referral,
)  # fmt: skip
"""What deriving everything again has to read."""


@contextmanager
def undone():
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def memory() -> int:
    """The most that this process had, in megabytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def derive(turns: int) -> dict[str, Any]:
    speed = per_second(turns)
    return {"Ours": f"{speed:,.0f} episodes/s", "Floor": "", "Ratio": "", "Goal": "≥ 10,000/s",
            "Met": met(speed >= 10_000)}  # fmt: skip


def per_second(turns: int) -> float:
    """Episodes that the heart alone derives in a second of its own, with reasons, on facts as they are stored."""
    from caseload.reads import timetables

    rows = list(timetables.with_sources(tables.Episode.objects.open().order_by("-id"))[:DERIVED])
    facts = timetables.facts_of(rows)
    calendars = timetables._calendars(rows, facts.values())
    rules = {row.pk: timetables.rules_of(row.rules) for row in rows}

    def do() -> None:
        for row in rows:
            timetables.derive(facts[row.pk], rules[row.pk], calendars[row.site_id], as_of=timetables.FIRST_DAY)

    own = statistics.median(timed(do)[1] for _ in range(turns))
    return len(rows) / own


def rederive(turns: int, changed: bool = False) -> dict[str, Any]:
    """Everything derived again; with `changed`, a tenth of the follow-ups due was written wrongly and is mended. The
    floor reads and writes and derives nothing; beside it stands how long the heart takes over as many."""
    from caseload.actions.rederive import rederive

    now = timezone.now()
    before_it = memory()
    with undone():
        due = tables.FollowUp.objects.due().filter(episode__ended_on__isnull=True)
        wrong = due.annotate(rest=F("id") % CHANGED).filter(rest=0)
        before = list(wrong.values_list("minutes", "id")) if changed else []
        if changed:
            wrong.update(minutes=F("minutes") + 10)
        drifts: list = []
        took = timed(lambda: drifts.append(rederive(by=By(None, now, timezone.localdate(now)), mend=changed)))
        most = memory()
        floor = timed(read)[0] + (timed(lambda: update(before))[0] if changed else 0)
        open_now = tables.Episode.objects.open().count()
    said, heart = drifts[0].sentence(changed), open_now / per_second(1)
    return {"Ours": f"{took[0]:.1f} s ({took[1]:.1f} s own): {said}",
            "Floor": f"{floor:.1f} s; to derive those open {heart:.1f} s", "Ratio": f"{took[0] / floor:.1f}",
            "Goal": "≤ 1.5, + 50 MB", "Memory": most,
            "Met": met(took[0] <= 1.5 * floor and most - before_it <= 50)}  # fmt: skip


def read() -> None:
    """Every row, column by column, and a remembered sum of dates for each follow-up."""

    @cache
    def later(day: Any, days: int) -> Any:
        return day + timedelta(days=days)

    for model in READ:
        for row in model.objects.order_by().values_list().iterator(2000):
            if model is tables.FollowUp:
                later(row[7], 14)


def update(rows: list[tuple[int, int]]) -> None:
    with connection.cursor() as cursor:
        cursor.executemany("UPDATE caseload_followup SET minutes = %s WHERE id = %s", rows)


def taking_in(turns: int) -> dict[str, Any]:
    """A theatre list taken in at once, everything included, against `bulk_create` of the very same rows."""
    from caseload.actions import confirming
    from caseload.actions import intake as lists

    record = (
        tables.Patient, tables.Identifier, tables.Referral, tables.Episode, tables.FollowUp, tables.Standing,
        tables.Wait, tables.TrailEntry,
    )  # fmt: skip
    by = By(None, datetime.combine(intake.TODAY, time(9), tzinfo=UTC), intake.TODAY)
    before = {model: model.objects.aggregate(last=Max("pk"))["last"] for model in record}
    with undone():
        uploads: list = []
        up = timed(lambda: uploads.append(lists.upload(intake.listing(LISTED), file_name="long.csv", by=by)))
        last = tables.TrailEntry.objects.aggregate(last=Max("pk"))["last"]
        took = timed(lambda: confirming.confirm(uploads[0], by=by, version=None))
        most = memory()
        values = {
            model: list(model.objects.filter(pk__gt=last if model is tables.TrailEntry else before[model]).values())
            for model in record
        }
    with undone():
        bare = timed(lambda: create(values))
    written = sum(map(len, values.values()))
    return {"Ours": f"{took[0]:.1f} s for {written:,} rows (upload {up[0]:.1f} s)", "Floor": f"{bare[0]:.1f} s",
            "Ratio": f"{took[0] / bare[0]:.2f}", "Goal": "≤ 1.5", "Memory": most,
            "Met": met(took[0] <= 1.5 * bare[0])}  # fmt: skip


def create(values: dict) -> None:
    for model, ready in values.items():
        model.objects.bulk_create([model(**row) for row in ready], batch_size=500)


def book(turns: int) -> dict[str, Any]:
    """One appointment, against the statements that wrote it, one for each row; without what committing takes."""
    pairs = [_booked(turn) for turn in range(BOOKED)][2:]
    ours, bare = (statistics.median(1000 * pair[side][0] for pair in pairs) for side in (0, 1))
    said = f"{ours:.1f} ms, {pairs[0][2]} statements written"
    return {"Ours": said, "Floor": f"{bare:.1f} ms", "Ratio": f"{ours / bare:.1f}", "Goal": "≤ 2.2",
            "Met": met(ours <= 2.2 * bare)}  # fmt: skip


def _booked(turn: int) -> tuple[tuple[float, float], tuple[float, float], int]:
    from uuid import uuid4

    from caseload.actions import appointments
    from caseload.reads.openings import offers_for

    now = timezone.now()
    by = By(tables.Staff.objects.get(username="maureen"), now, timezone.localdate(now), uuid4())
    due = tables.FollowUp.objects.due().filter(booked_on=None, kind="outcome-review", episode__ended_on=None)
    row = due.filter(latest_on__gt=by.today + timedelta(days=21)).select_related("episode__site", "patient")[turn]
    offer = offers_for([row], at=now)[0]
    models = (tables.Appointment, tables.Purpose, tables.UndoStep, tables.Notice, tables.TrailEntry, tables.Standing)
    before = {model: model.objects.aggregate(last=Max("pk"))["last"] or 0 for model in models}
    record = booking.Recorder()
    with undone():
        session = tables.Session.objects.get(pk=offer.session)
        with connection.execute_wrapper(record):
            took = timed(lambda: appointments.book([row], by=by, session=session, start=offer.start))
        written = [each for model in models for each in model.objects.filter(pk__gt=before[model])]
        written[1:1] = tables.Seat.objects.filter(appointment=written[0].pk)
        written += tables.Submission.objects.filter(pk=by.key)
    statements = [*record.writes, *map(booking.inserted, written)]
    with undone():
        bare = timed(lambda: _execute(statements))
    return took, bare, len(statements)


def _execute(statements: list[tuple[str, Any]]) -> None:
    with connection.cursor() as cursor:
        for sql, params in statements:
            cursor.execute(sql, params)


PIECES: Final[dict[str, Callable[[int], dict[str, Any]]]] = {
    "derive, heart only": derive,
    "book one appointment": book,
    "rederive, nothing changed": rederive,
    "rederive, a tenth mended": lambda turns: rederive(turns, changed=True),
    f"take in {LISTED:,} rows": taking_in,
}


def main(size: str, turns: str, into: str, piece: str = "") -> None:
    if piece:
        began = memory()
        row = {"Work": piece, "Open": f"{int(size):,}", "Database": connection.vendor} | PIECES[piece](int(turns))
        most = row.pop("Memory", memory())
        row |= {"Memory MB": f"{most} (+ {most - began})", "Met": row.pop("Met")}
        Path(into).write_text(json.dumps(row))
        print(row, flush=True)
        return
    found = []
    for name in PIECES:
        one = Path(f"{into}.one")
        command = [sys.executable, "-m", "tests.benchmarks.size.inside", "work", size, turns, str(one), name]
        if subprocess.run(command, env=os.environ).returncode == 0:
            found.append(json.loads(one.read_text()))
    Path(into).write_text(json.dumps(found, indent=1))
