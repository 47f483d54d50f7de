"""The long and the frequent pieces of work on a filled database, each against the bare statements that it comes to.

Everything is rolled back, so that a kept database stays as it is; only the writers leave their calls. Each piece runs
in a process of its own, whose memory is told beside: the most that it had, and how much more than when it began.
"""

import json
import statistics
import subprocess
import sys
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final, NamedTuple
from uuid import uuid4

from django.db import connection
from django.db.models import F, Max, Model
from django.utils import timezone

from caseload import models as tables
from caseload.actions import appointments, confirming
from caseload.actions import intake as lists
from caseload.actions import rederive as everything
from caseload.actions.act import By
from caseload.reads import timetables
from caseload.reads.openings import offers_for
from tests.benchmarks.fresh import NOW, TODAY
from tests.benchmarks.intake import listing
from tests.benchmarks.measuring import Took, most_memory, timed
from tests.benchmarks.statements import Recorder, create, execute, inserted, undone
from tests.benchmarks.table import met

DERIVED: Final = 5_000
LISTED: Final = 10_000
BOOKED: Final = 25
CHANGED: Final = 10
"""Of so many follow-ups one was written wrongly, and is mended."""
READ: Final[tuple[type[Model], ...]] = (
    tables.Episode, tables.FollowUp, tables.Finding, tables.SetReview, tables.Instruction, tables.Appointment,
    tables.Purpose, tables.Standing, tables.Wait, tables.Visit, tables.Referral,
)  # fmt: skip
"""What deriving everything again has to read."""


WRITTEN_BY_LIST: Final[tuple[type[Model], ...]] = (
    tables.Patient, tables.Identifier, tables.Referral, tables.Episode, tables.FollowUp, tables.Standing, tables.Wait,
    tables.TrailEntry,
)  # fmt: skip
WRITTEN_BY_BOOKING: Final[tuple[type[Model], ...]] = (
    tables.Appointment, tables.Purpose, tables.UndoStep, tables.Notice, tables.TrailEntry, tables.Standing
)  # fmt: skip


def derive(turns: int) -> dict[str, Any]:
    speed = per_second(turns)
    return {"Ours": f"{speed:,.0f} episodes/s", "Floor": "", "Ratio": "", "Goal": "≥ 10,000/s",
            "Met": met(speed >= 10_000)}  # fmt: skip


def per_second(turns: int) -> float:
    """Episodes that the heart alone derives in a second of its own, with reasons, on facts as they are stored."""
    rows = list(timetables.with_sources(tables.Episode.objects.open().order_by("-id"))[:DERIVED])
    facts = timetables.facts_of(rows)
    calendars = timetables._calendars(rows, facts.values())
    rules = {row.pk: timetables.rules_of(row.rules) for row in rows}

    def do() -> None:
        for row in rows:
            timetables.derive(facts[row.pk], rules[row.pk], calendars[row.site_id], as_of=timetables.FIRST_DAY)

    return len(rows) / statistics.median(timed(do).own for _ in range(turns))


def rederive(turns: int, changed: bool = False) -> dict[str, Any]:
    """Everything derived again; with `changed`, a tenth of the follow-ups due was written wrongly and is mended. The
    floor reads and writes and derives nothing; beside it stands how long the heart takes over as many."""
    now, before_it = timezone.now(), most_memory()
    by = By(None, now, timezone.localdate(now))
    with undone():
        due = tables.FollowUp.objects.due().filter(episode__ended_on__isnull=True)
        wrong = due.annotate(rest=F("id") % CHANGED).filter(rest=0)
        before = list(wrong.values_list("minutes", "id")) if changed else []
        if changed:
            wrong.update(minutes=F("minutes") + 10)
        took = timed(lambda: everything.rederive(by=by, mend=changed))
        most = most_memory()
        floor = timed(read).wall + (timed(lambda: update(before)).wall if changed else 0)
        open_now = tables.Episode.objects.open().count()
    said, heart = took.came.sentence(changed), open_now / per_second(1)
    return {"Ours": f"{took.wall:.1f} s ({took.own:.1f} s own): {said}",
            "Floor": f"{floor:.1f} s; to derive those open {heart:.1f} s", "Ratio": f"{took.wall / floor:.1f}",
            "Goal": "≤ 1.5, + 50 MB", "Memory": most,
            "Met": met(took.wall <= 1.5 * floor and most - before_it <= 50)}  # fmt: skip


def read() -> None:
    """Every row, column by column, and a remembered sum of dates for each follow-up."""

    @cache
    def later(day: date, days: int) -> date:
        return day + timedelta(days=days)

    anchor = [field.name for field in tables.FollowUp._meta.concrete_fields].index("anchor_on")
    for model in READ:
        for row in model._default_manager.order_by().values_list().iterator(2000):
            if model is tables.FollowUp:
                later(row[anchor], 14)


def update(rows: list[tuple[int, int]]) -> None:
    with connection.cursor() as cursor:
        cursor.executemany("UPDATE caseload_followup SET minutes = %s WHERE id = %s", rows)


def taking_in(turns: int) -> dict[str, Any]:
    """A theatre list taken in at once, everything included, against `bulk_create` of the very same rows."""
    by = By(None, NOW, TODAY)
    with undone():
        up = timed(lambda: lists.upload(listing(LISTED), file_name="long.csv", by=by))
        before = last_of(WRITTEN_BY_LIST)
        took = timed(lambda: confirming.confirm(up.came, by=by, version=None))
        most = most_memory()
        values = {model: list(model._default_manager.filter(pk__gt=last).values()) for model, last in before.items()}
    with undone():
        bare = timed(lambda: create(values))
    written = sum(map(len, values.values()))
    return {"Ours": f"{took.wall:.1f} s for {written:,} rows (upload {up.wall:.1f} s)", "Floor": f"{bare.wall:.1f} s",
            "Ratio": f"{took.wall / bare.wall:.2f}", "Goal": "≤ 1.5", "Memory": most,
            "Met": met(took.wall <= 1.5 * bare.wall)}  # fmt: skip


def last_of(models: Sequence[type[Model]]) -> dict[type[Model], int]:
    """The highest key of each table."""
    return {model: model._default_manager.aggregate(last=Max("pk"))["last"] or 0 for model in models}


class Booked(NamedTuple):
    """One booking, and the same by so many bare statements."""

    ours: Took[object]
    bare: Took[object]
    statements: int


def book(turns: int) -> dict[str, Any]:
    """One appointment, against the statements that wrote it, one for each row; without what committing takes."""
    pairs = [_booked(turn) for turn in range(BOOKED)][2:]
    ours = statistics.median(1000 * each.ours.wall for each in pairs)
    bare = statistics.median(1000 * each.bare.wall for each in pairs)
    said = f"{ours:.1f} ms, {pairs[0].statements} statements written"
    return {"Ours": said, "Floor": f"{bare:.1f} ms", "Ratio": f"{ours / bare:.1f}", "Goal": "≤ 2.2",
            "Met": met(ours <= 2.2 * bare)}  # fmt: skip


def _booked(turn: int) -> Booked:
    now, key = timezone.now(), uuid4()
    by = By(tables.Staff.objects.get(username="maureen"), now, timezone.localdate(now), key)
    due = tables.FollowUp.objects.due().filter(booked_on=None, kind="outcome-review", episode__ended_on=None)
    row = due.filter(latest_on__gt=by.today + timedelta(days=21)).select_related("episode__site", "patient")[turn]
    offer = offers_for([row], at=now)[0]
    before, record = last_of(WRITTEN_BY_BOOKING), Recorder()
    with undone():
        session = tables.Session.objects.get(pk=offer.session)
        with connection.execute_wrapper(record):
            took = timed(lambda: appointments.book([row], by=by, session=session, start=offer.start))
        written = [row for model, last in before.items() for row in model._default_manager.filter(pk__gt=last)]
        written[1:1] = tables.Seat.objects.filter(appointment=written[0].pk)
        written += tables.Submission.objects.filter(pk=key)
    statements = [*record.writes, *map(inserted, written)]
    with undone():
        bare = timed(lambda: execute(statements))
    return Booked(took, bare, len(statements))


PIECES: Final[dict[str, Callable[[int], dict[str, Any]]]] = {
    "derive, heart only": derive,
    "book one appointment": book,
    "rederive, nothing changed": rederive,
    "rederive, a tenth mended": lambda turns: rederive(turns, changed=True),
    f"take in {LISTED:,} rows": taking_in,
}


def main(size: str, turns: str, into: str, piece: str = "") -> None:
    if piece:
        began = most_memory()
        row = {"Work": piece, "Open": f"{int(size):,}", "Database": connection.vendor} | PIECES[piece](int(turns))
        most = row.pop("Memory", most_memory())
        row |= {"Memory MB": f"{most} (+ {most - began})", "Met": row.pop("Met")}
        Path(into).write_text(json.dumps(row))
        print(row, flush=True)
        return
    found = []
    for name in PIECES:
        one = Path(f"{into}.one")
        command = [sys.executable, "-m", "tests.benchmarks.size.inside", "work", size, turns, str(one), name]
        if subprocess.run(command).returncode == 0:
            found.append(json.loads(one.read_text()))
    Path(into).write_text(json.dumps(found, indent=1))
