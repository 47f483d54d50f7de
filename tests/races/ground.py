"""The ground of a race: a database of its own, a web server of several processes on it, sixteen people signed in."""

import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from tests import scratch
from tests.races.racers import RACERS

ROOT = Path(__file__).resolve().parents[2]
WORKERS = 4
SECRET = "r" * 32
"""Cookie and field of the token against forged forms: both carry it."""


@contextmanager
def database(wanted: str) -> Iterator[tuple[str, Path]]:
    """An empty database and a data folder: `sqlite`, `postgresql` (a server of its own), or the URL of a server."""
    with ExitStack() as stack:
        folder = stack.enter_context(scratch.folder("races", None))
        if wanted == "sqlite":
            url = f"sqlite:///{folder}/caseload.sqlite3"
        elif wanted == "postgresql":
            url = stack.enter_context(scratch.postgresql())
        else:
            url = stack.enter_context(beside(wanted))
        yield url, folder


@contextmanager
def beside(url: str) -> Iterator[str]:
    """A database of its own on the server at `url`."""
    import psycopg

    name, server = f"races_{os.getpid()}", url
    head, _, query = url.partition("?")
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        try:
            yield f"{head.rpartition('/')[0]}/{name}?{query}"
        finally:
            connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@contextmanager
def served(folder: Path) -> Iterator[tuple[int, Path]]:
    """gunicorn over the database of this process's environment: its port, and the file of its log."""
    port = scratch.free_port()
    size = ["--worker-class", "gthread", "--workers", str(WORKERS), "--threads", str(RACERS // WORKERS)]
    command = [sys.executable, "-m", "gunicorn", "clinic.wsgi", "--bind", f"127.0.0.1:{port}", *size, "--log-level",
               "warning", "--no-control-socket", "--chdir", str(ROOT)]  # fmt: skip
    with scratch.running(command, folder, None, lambda: scratch.listens(port)):
        yield port, folder / "log"


def prepare() -> None:
    """Tables, triggers and the static files that the pages name."""
    from django.core.management import call_command

    call_command("migrate", interactive=False, verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


@dataclass
class Runner:
    """A person at a desk, with a patient of their own and the row that they try to book."""

    cookie: str
    patient: str
    follow_up: int
    episode: str
    key: str


class Ground:
    """One site, sessions on its open days from day 12 on, and groups of runners."""

    def __init__(self) -> None:
        from caseload.models import Holiday, Region
        from tests.scenario import fernhollow

        self.today = date.today()
        self.clinic = fernhollow()
        Holiday.objects.all().delete()
        Region.objects.update(covered_until=self.today + timedelta(days=800))
        days = [self.today + timedelta(days=ahead) for ahead in range(8, 13)]
        self.sessions = [self.clinic.session(day, start=480, end=880) for day in days if day.weekday() < 5]
        self.people = [self._person(number) for number in range(RACERS)]

    def runners(self) -> list[Runner]:
        """A new patient for each of the people, freshly signed in."""
        return [self._runner(person) for person in self.people]

    def _runner(self, person) -> Runner:
        surgery_on = self.today - timedelta(days=4)
        episode = self.clinic.episode(today=self.today, surgery_on=surgery_on)
        row = episode.follow_ups.get(key="stitches-out")
        patient = episode.patient
        said = f"{patient.family.upper()}, {patient.given}"
        return Runner(signed_in(person), said, row.pk, episode.code, row.key)

    def _person(self, number: int):
        from caseload.models import Staff

        return Staff.objects.create(username=f"runner{number}", name=f"Runner {number}", password=None, is_admin=True)


def signed_in(person) -> str:
    """The cookies of a person who signed in before the race."""
    from tests.signed_in import session_of

    return f"session={session_of(person)}; csrf={SECRET}"
