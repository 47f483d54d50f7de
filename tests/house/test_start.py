"""`start` brings up the whole planner, says where it is, and leaves nothing behind."""

import os
import signal
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from tests.house.processes import descendants, gone
from tests.scratch import free_port

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


class Planner:
    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        command = [sys.executable, "manage.py", "start", "--no-demo", "--port", str(self.port)]
        environment = os.environ | {"CASELOAD_DATA_FOLDER": str(folder), "DATABASE_URL": "", "REDIS_URL": ""}
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(
            command, cwd=settings.BASE_DIR, env=environment, stdout=pipe, stderr=pipe, text=True
        )
        self.lines = [self.process.stdout.readline(), self.process.stdout.readline()]
        self.members = descendants(self.process.pid)

    def get(self, path: str) -> int:
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}{path}", timeout=10) as answer:
            return answer.status

    def last_words(self) -> tuple[str, str]:
        return self.process.communicate(timeout=30)


@pytest.fixture
def planner(tmp_path) -> Iterator[Planner]:
    one = Planner(tmp_path)
    yield one
    one.process.kill()
    assert gone(one.members)


def test_it_answers_where_it_says_and_stops_cleanly_on_ctrl_c(planner):
    assert f"http://127.0.0.1:{planner.port}/" in planner.lines[-1]
    assert planner.get("/livez") == 200
    planner.process.send_signal(signal.SIGINT)
    assert planner.last_words()[0] == "Stopped.\n"
    assert planner.process.returncode == 0
    assert len(planner.members) >= 4 and gone(planner.members)  # gunicorn, its two workers, background


def test_the_death_of_the_background_work_stops_the_web_and_is_said(planner):
    background = next(pid for pid in planner.members if b"background" in Path(f"/proc/{pid}/cmdline").read_bytes())
    os.kill(background, signal.SIGKILL)
    assert "The background work did not keep running" in planner.last_words()[1]
    assert planner.process.returncode == 1
    assert gone(planner.members)


def test_a_taken_port_is_one_sentence():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} is taken.*--port {port + 1}"):
            call_command("start", "--port", str(port))
