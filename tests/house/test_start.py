"""`start` brings up the whole planner, says where it is, and leaves nothing behind."""

import os
import signal
import socket
import sqlite3
import sys

import pytest
from django.core.management import CommandError, call_command

from tests.house.processes import eventually, gone

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


def jobs_done(one) -> bool:
    database = sqlite3.connect(one.folder / "caseload.sqlite3", timeout=20)
    count = database.execute("SELECT count(*) FROM caseload_job WHERE state = 'done'").fetchone()[0]
    database.close()
    return count > 0


def test_it_answers_where_it_says_and_stops_cleanly_on_ctrl_c(planner):
    one = planner()
    assert f"http://127.0.0.1:{one.port}/" in one.lines[-1]
    assert one.get("/livez") == 200
    one.process.send_signal(signal.SIGINT)
    assert one.last_words()[0] == "Stopped.\n"
    assert one.process.returncode == 0
    assert len(one.members) >= 2 and gone(one.members)


def test_the_death_of_the_background_work_stops_the_web_and_is_said(planner):
    one = planner()
    os.kill(one.pid_of(b"background"), signal.SIGKILL)
    assert "The background work did not keep running" in one.last_words()[1]
    assert one.process.returncode == 1
    assert gone(one.members)


def test_without_a_broker_the_schedule_asks_for_work_and_it_is_done(planner):
    one = planner()
    assert eventually(lambda: jobs_done(one), seconds=60)


@pytest.mark.redis
def test_with_redis_the_same_work_is_done_by_celery_and_nobody_is_left_behind(planner, redis_url):
    one = planner(REDIS_URL=redis_url)
    assert one.pid_of(b"clock@") and one.pid_of(b"jobs@") and one.pid_of(b"beat")
    assert eventually(lambda: jobs_done(one), seconds=60)
    one.process.send_signal(signal.SIGTERM)
    assert one.last_words()[0].endswith("Stopped.\n")
    assert gone(one.members)


def test_a_taken_port_is_one_sentence():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} is taken.*--port {port + 1}"):
            call_command("start", "--port", str(port))
