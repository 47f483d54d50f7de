"""A planner that really runs, started as a person would start it."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path

import pytest
from django.conf import settings

from tests.house.processes import descendants, gone
from tests.scratch import free_port


def plain(folder: Path) -> dict[str, str]:
    """The environment of a first start, and output held back in a pipe as it would be for anybody."""
    return {"CASELOAD_DATA_FOLDER": str(folder), "DATABASE_URL": "", "REDIS_URL": "", "PYTHONUNBUFFERED": ""}


class Planner:
    """`python manage.py start --no-demo`, with a data folder and a port of its own. It keeps every line it prints."""

    def __init__(self, folder: Path, **names: str) -> None:
        self.folder = folder
        self.port = free_port()
        command = [sys.executable, "manage.py", "start", "--no-demo", "--port", str(self.port)]
        environment = os.environ | plain(folder) | names
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(
            command, cwd=settings.BASE_DIR, env=environment, stdout=pipe, stderr=pipe, text=True
        )
        self.lines = [self.process.stdout.readline(), self.process.stdout.readline()]
        self.members = descendants(self.process.pid)

    def get(self, path: str) -> int:
        return self.answer(path).status

    def text(self, path: str, **headers: str) -> str:
        return self.answer(path, **headers).read().decode()

    def answer(self, path: str, **headers: str) -> HTTPResponse:
        asking = HTTPConnection("127.0.0.1", self.port, timeout=60)
        asking.request("GET", path, headers=headers)
        return asking.getresponse()

    def pid_of(self, word: bytes) -> int:
        return next(pid for pid in self.members if word in Path(f"/proc/{pid}/cmdline").read_bytes())

    def last_words(self) -> tuple[str, str]:
        return self.process.communicate(timeout=60)


@pytest.fixture(scope="session")
def migrated(tmp_path_factory) -> Path:
    """A data folder whose database has its tables already: making them is most of the time of a first start."""
    folder = tmp_path_factory.mktemp("migrated")
    command = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
    subprocess.run(command, cwd=settings.BASE_DIR, env=os.environ | plain(folder), check=True)
    return folder


@pytest.fixture
def planner(tmp_path, migrated) -> Iterator[Callable[..., Planner]]:
    running: list[Planner] = []

    def start(**names: str) -> Planner:
        shutil.copytree(migrated, tmp_path, dirs_exist_ok=True)
        running.append(Planner(tmp_path, **names))
        return running[-1]

    yield start
    for one in running:
        one.process.kill()
        assert gone(one.members)
