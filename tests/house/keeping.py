"""Databases of a test's own beside the one of the run, and a clinic in which no table is empty."""

import gzip
import hashlib
import os
import resource
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path
from threading import Condition, Event, Thread
from urllib.parse import urlsplit
from uuid import UUID

import psycopg
from allauth.mfa.models import Authenticator
from django.apps import apps
from django.db import connection, connections, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.utils import load_backend

from caseload.actions import (
    absences,
    appointments,
    contacts,
    feeds,
    findings,
    instructions,
    intake,
    looks,
    patients,
    reach,
    referrals,
    reviews,
    rule_changes,
    sealing,
    service,
    undoing,
    visits,
    weeks,
)
from caseload.management.keeping.heading import as_line
from caseload.models import (
    EVER,
    Draft,
    Episode,
    Filing,
    FillPlan,
    IntakeRow,
    Job,
    JobFile,
    LetterBatch,
    Look,
    Notice,
    Standing,
    Submission,
    Tick,
    TrailEntry,
    WorkedOn,
)
from clinic.settings import database
from tests.record.acts import CALLS
from tests.scenario import NHS_NUMBERS, Fernhollow, by, fernhollow

LIST = b"Surname,First name,Surgery date,Side,Digit\nAshdown,Marian,2026-03-20,right,ring\nBroken,,,,\n"
NUMBERS = [1.5, 1e16, 1e23, 1e-7, -0.0, 0, 2**70, 0.1]
WORDS = ["", "é", "\u2028", "\U0001f590", 'a"b\\c', "=1+1"]
ODD = {"b": NUMBERS, "a": {"z": None, "y": [True, False], "é": WORDS}, "": {}}
"""What two engines keep in different ways: order, numbers with an exponent, letters outside ASCII."""

ACTS = (
    referrals.add, visits.record, findings.countersign, findings.escalate, findings.close_red_flag, instructions.give,
    reviews.complete, appointments.move, undoing.undo, contacts.log, weeks.save_week,
    absences.add_absence, looks.exported, service.add_closure, feeds.make, rule_changes.propose,
    reach.open_with_reason,
)  # fmt: skip


@contextmanager
def at(url: str) -> Iterator[None]:
    """Everything that is done meanwhile, in this thread, is done to the database at `url`."""
    described = connections.configure_settings({"default": database(url, pooled=False)})["default"]
    usual = connections["default"]
    connections["default"] = load_backend(described["ENGINE"]).DatabaseWrapper(described, "default")
    try:
        yield
    finally:
        connections["default"].close()
        connections["default"] = usual


@contextmanager
def copies(made: str, folder: Path) -> Iterator[Callable[[], str]]:
    """A function that gives the address of a new database, each a copy of the one of that name on this run's engine."""
    with _of_server(made) if connection.vendor == "postgresql" else _of_file(made, folder) as copied:
        yield copied


@contextmanager
def _of_file(made: str, folder: Path) -> Iterator[Callable[[], str]]:
    blank, number = shutil.copy(made, folder / "blank.sqlite3"), count(1)
    yield lambda: f"sqlite:///{shutil.copy(blank, folder / f'{next(number)}.sqlite3')}"


@contextmanager
def _of_server(made: str) -> Iterator[Callable[[], str]]:
    """Of a copy that nobody uses, since a database in use cannot be copied."""
    server, names = urlsplit(os.environ["DATABASE_URL"]), [f"{made}_blank"]
    with psycopg.connect(server.geturl(), autocommit=True) as admin:

        def another(name: str, of: str) -> str:
            admin.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
            admin.execute(f"CREATE DATABASE {name} TEMPLATE {of}")
            return name

        def copied() -> str:
            names.append(another(f"{made}_{len(names)}", names[0]))
            return server._replace(path=f"/{names[-1]}").geturl()

        left_over = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s AND state = 'idle'"
        admin.execute(left_over, [made])
        another(names[0], made)
        try:
            yield copied
        finally:
            for name in names:
                admin.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def new_sqlite(file: Path) -> str:
    """The address of an empty SQLite database, its tables made at once: migrating there takes seconds."""
    with at(url := f"sqlite:///{file}"):
        with connection.schema_editor() as editor:
            for model in apps.get_models():
                editor.create_model(model)
        had = MigrationRecorder(connection)
        had.ensure_schema()
        for app, name in MigrationLoader(None).disk_migrations:
            had.record_applied(app, name)
    return url


@transaction.atomic
def fill() -> Fernhollow:
    """A row in every table, most of them by the acts that write them in earnest."""
    clinic = fernhollow()
    clinic.lead.is_therapist = clinic.lead.is_admin = True
    clinic.lead.save()
    for act in ACTS:
        CALLS[act](clinic, by(clinic.lead))
    batch = intake.upload(LIST, file_name="list.csv", by=by(clinic.admin), site=clinic.site)
    IntakeRow.objects.filter(batch=batch).update(entry=None)
    _odd_rows(clinic)
    return clinic


def _odd_rows(clinic: Fernhollow) -> None:
    now = datetime(2026, 3, 29, 1, 0, 0, 1, tzinfo=UTC)  # the clocks go forward, and one millionth of a second
    named = {"given": "Zoë \u2028 \U0001f590", "family": "O’Neill", "born_on": date(2024, 2, 29)}
    leaper = clinic.patient(**named, nhs_number=NHS_NUMBERS[0], dressing_allergy="=1+1")
    Standing.objects.filter(episode=Episode.objects.order_by("pk").last()).update(until_on=EVER)
    job = Job.objects.create(kind="odd", asked=ODD, by=clinic.lead, state="running", claimed_until=now, created_at=now)
    JobFile.objects.create(job=job, name="all.bin", media_type="any", content=bytes(range(256)))
    Draft.objects.create(staff=clinic.lead, place="/visit/", body=ODD, saved_at=now)
    Submission.objects.create(key=UUID(int=2**127 + 1), by=clinic.lead, act="odd", at=now.replace(microsecond=0))
    Submission.objects.create(key=UUID(int=9), by=clinic.lead, act="odd", at=now)
    WorkedOn.objects.create(patient=leaper, by=clinic.lead, at=now)
    for name in ("odd", "gone"):
        tick = Tick.objects.create(name=name, due_at=now + timedelta(days=1))
    tick.delete()
    LetterBatch.objects.create(by=clinic.lead, made_at=now)
    FillPlan.objects.create(made_at=now, first_on=now, last_on=now, cost=2**40, bound=0, could_place=0).lines.create(
        number=0, patient=leaper, names=ODD, minutes=0, parts=ODD, reasons=ODD, why=ODD
    )
    Filing.objects.create(month=date(2026, 2, 1), body=ODD, filed_by=clinic.lead, filed_at=now)
    for kind in ("week-before", "booked"):
        Notice.objects.create(key=f"odd-{kind}", kind=kind, channel="email", patient=leaper, made_at=now, due_at=now)
    Authenticator.objects.create(user=clinic.lead, type="webauthn", data=ODD, created_at=now)
    TrailEntry.objects.create(at=now, by=None, act="odd", subject="", subject_id=2**63 - 1, changed=ODD)
    sealing.seal(by(today=date(2026, 4, 2)).at)
    sealing.let_go(TrailEntry.objects.filter(act="visit.record"), Look.objects.none(), now)


def rows_by_table() -> dict[str, int]:
    tables = [*apps.get_app_config("caseload").get_models(), Authenticator]
    return {model._meta.db_table: model._base_manager.count() for model in tables}


def forged(file: Path, to: Path, change: Callable[[list[bytes]], None]) -> Path:
    """The backup with other lines, and a digest that fits them."""
    lines = gzip.decompress(file.read_bytes()).splitlines(keepends=True)[:-1]
    change(lines)
    to.write_bytes(gzip.compress(b"".join(with_digest(lines))))
    return to


def with_digest(lines: list[bytes]) -> list[bytes]:
    return [*lines, as_line({"sha256": hashlib.sha256(b"".join(lines)).hexdigest()})]


class Writer(Thread):
    """Adds patients by the act, one after the other, until it is told to stop."""

    def __init__(self, url: str) -> None:
        super().__init__(daemon=True)
        self.url, self.done = url, 0
        self.stop, self.added = Event(), Condition()

    def run(self) -> None:
        with at(self.url):
            while not self.stop.is_set():
                patients.add(given="Ivo", family=f"Harrow {self.done}", by=by())
                with self.added:
                    self.done += 1
                    self.added.notify()

    def wait_for_one_more(self) -> None:
        with self.added:
            seen = self.done
            assert self.added.wait_for(lambda: self.done > seen, timeout=30), "a writer was held up"


@contextmanager
def writing(url: str) -> Iterator[Writer]:
    """Somebody who writes to a database all the while."""
    writer = Writer(url)
    writer.start()
    writer.wait_for_one_more()
    try:
        yield writer
    finally:
        writer.stop.set()
        writer.join()


@contextmanager
def no_larger_than(size: int) -> Iterator[None]:
    """No file may be written beyond so many bytes: to a program it looks like a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
