"""Databases that are kept in a folder, so that one that took minutes to fill is filled once.

SQLite: a file in a folder for each size. PostgreSQL: one cluster on a socket in the folder, a database for each size.
"""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Final

from tests import scratch

ROOT: Final = Path(__file__).resolve().parents[3]
SETTINGS: Final = ("shared_buffers=512MB", "maintenance_work_mem=256MB", "max_wal_size=8GB", "max_connections=50",
                   "listen_addresses=")  # fmt: skip
"""Memory as a small server would be given; the rest as it comes, but without fsync."""
END_SECONDS: Final = 120
FILLED: Final = "filled"
"""A file of this name says that the database beside it is whole."""


def environment(vendor: str, folder: Path, size: int) -> dict[str, str]:
    """What the planner has to be told to run on the database of a size."""
    home = folder / f"{vendor}-{size}"
    home.mkdir(parents=True, exist_ok=True)
    url = f"sqlite:///{home}/caseload.sqlite3"
    if vendor == "postgresql":
        url = f"postgresql://tests@/size_{size}?host={folder / 'cluster'}"
    told = {"DATABASE_URL": url, "CASELOAD_DATA_FOLDER": str(home), "CASELOAD_MAIL_URL": "folder:"}
    plain = {name: value for name, value in os.environ.items() if not name.startswith("CASELOAD_")}
    return plain | told | {"CASELOAD_LOG_LEVEL": "ERROR", "DJANGO_SETTINGS_MODULE": "clinic.settings"}


@contextmanager
def server(vendor: str, folder: Path) -> Iterator[None]:
    """The kept cluster, running; nothing for SQLite."""
    with nullcontext() if vendor == "sqlite" else _running(folder.resolve() / "cluster"):
        yield


@contextmanager
def _running(home: Path) -> Iterator[None]:
    initdb, postgres, user = scratch.find("initdb"), scratch.find("postgres"), scratch.ordinary_user()
    assert initdb and postgres, "PostgreSQL is not installed"
    data = home / "data"
    if not data.exists():
        home.mkdir(parents=True, exist_ok=True)
        if user:
            shutil.chown(home, user)
        made = [initdb, "-D", str(data), "-U", "tests", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"]
        subprocess.run(made, user=user, cwd=home, check=True, stdout=subprocess.DEVNULL)
    if _answers(home):
        yield
        return
    options = ["-F", "-k", str(home), *(part for each in SETTINGS for part in ("-c", each))]
    with scratch.running([postgres, "-D", str(data), *options], home, user, lambda: _answers(home)):
        try:
            yield
        finally:
            _end(data / "postmaster.pid")


def _answers(home: Path) -> bool:
    """Not while it still recovers from having been killed."""
    return ask(home, "SELECT 1", check=False) == 0


def _end(running: Path) -> None:
    """At once for its clients, and with all that it has written down."""
    os.kill(int(running.read_text().split()[0]), signal.SIGINT)
    limit = time.monotonic() + END_SECONDS
    while running.exists() and time.monotonic() < limit:
        time.sleep(0.1)


def ask(home: Path, sql: str, *, check: bool = True) -> int:
    """Exit status of a statement in the cluster."""
    command = [scratch.find("psql") or "psql", "-q", "-h", str(home), "-U", "tests", "-d", "postgres", "-c", sql]
    silent = subprocess.DEVNULL
    return subprocess.run(command, check=check, stdout=silent, stderr=silent).returncode


def prepare(vendor: str, folder: Path, size: int) -> None:
    """Make and fill the database of a size, unless it is kept already. Size 0 is the demo; all others begin as it."""
    told = environment(vendor, folder, size)
    mark = Path(told["CASELOAD_DATA_FOLDER"]) / FILLED
    if mark.exists():
        return
    if size:
        prepare(vendor, folder, 0)
    elif vendor == "postgresql":
        prepare("sqlite", folder, 0)
    (_new_file if vendor == "sqlite" else _new_database)(folder, size)
    if size or vendor == "sqlite":
        inside(told, "data", str(size))
    else:
        _moved(folder, told)
    mark.touch()


def _moved(folder: Path, told: dict[str, str]) -> None:
    """The demo of SQLite in the other database: the acts need not be played once more."""
    file = folder / "demo.caseload"
    file.unlink(missing_ok=True)
    for command, env in ((["backup"], environment("sqlite", folder, 0)), (["restore", "--send-due"], told)):
        subprocess.run([sys.executable, "manage.py", *command, str(file)], cwd=ROOT, env=env, check=True)


def _new_file(folder: Path, size: int) -> None:
    files = [folder / f"sqlite-{each}" / "caseload.sqlite3" for each in (0, size)]
    files[1].unlink(missing_ok=True)
    if size:
        shutil.copy(*files)


def _new_database(folder: Path, size: int) -> None:
    name, like = f"size_{size}", "size_0" if size else "template1"
    for sql in (f"DROP DATABASE IF EXISTS {name}", f"CREATE DATABASE {name} TEMPLATE {like}"):
        ask(folder / "cluster", sql)


def inside(told: dict[str, str], module: str, *arguments: str) -> None:
    """Run a module of this package on a database."""
    command = [sys.executable, "-m", "tests.benchmarks.size.inside", module, *arguments]
    subprocess.run(command, cwd=ROOT, env=told, check=True)
