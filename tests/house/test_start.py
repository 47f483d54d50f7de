"""`start` brings up the whole planner, says where it is, and leaves nothing behind."""

import os
import signal
import socket
import sqlite3
import sys
from contextlib import closing
from io import StringIO

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from caseload.demo.people import PASSWORD
from caseload.management.commands import start
from caseload.models import Staff
from tests import scratch
from tests.house.processes import eventually, gone

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


ON_POSTGRESQL = connection.vendor == "postgresql"
embedded = pytest.mark.skipif(ON_POSTGRESQL, reason="once is enough; PostgreSQL has a start of its own below")
DONE = "SELECT count(*) FROM caseload_job WHERE state = 'done'"

MAIL = "CASELOAD_MAIL_URL"
OWN = {MAIL: ""}
PULSES = "SELECT name FROM caseload_pulse"


def jobs_done(one) -> bool:
    with closing(sqlite3.connect(one.folder / "caseload.sqlite3", timeout=20)) as database:
        return database.execute(DONE).fetchone()[0] > 0


def alive(one) -> set[str]:
    """The parts that showed that they are alive, without their hosts."""
    with closing(sqlite3.connect(one.folder / "caseload.sqlite3", timeout=20)) as database:
        return {name.removeprefix("worker ").split("@")[0] for (name,) in database.execute(PULSES)}


@embedded
def test_it_answers_where_it_says_and_stops_cleanly_on_ctrl_c(planner):
    one = planner()
    assert f"http://127.0.0.1:{one.port}/" in one.lines[-1]
    assert one.get("/livez") == one.get("/readyz") == 200
    one.process.send_signal(signal.SIGINT)
    assert one.last_words()[0] == "Stopped.\n"
    assert one.process.returncode == 0
    assert len(one.members) >= 2 and gone(one.members)


@embedded
def test_its_web_processes_count_as_one_and_the_death_of_the_background_work_stops_them(planner):
    one = planner(CASELOAD_METRICS_TOKEN="a-long-token")
    assert [one.get("/nowhere/") for _ in range(8)] == [404] * 8 and one.get("/metrics") == 404
    told = one.text("/metrics", Authorization="Bearer a-long-token")
    assert 'caseload_requests_total{method="GET",route="unknown",status="4xx"} 8.0' in told.splitlines()
    os.kill(one.pid_of(b"background"), signal.SIGKILL)
    assert "The background work did not keep running" in one.last_words()[1]
    assert one.process.returncode == 1 and gone(one.members)


@embedded
def test_without_a_broker_the_schedule_asks_for_work_and_it_is_done(planner):
    one = planner()
    assert eventually(lambda: jobs_done(one), seconds=60)


@pytest.mark.skipif(not ON_POSTGRESQL, reason="about PostgreSQL")
def test_on_postgresql_pages_come_from_the_pool_and_the_same_work_is_done(planner):
    with scratch.postgresql() as url, psycopg.connect(url, autocommit=True) as database:
        one = planner(DATABASE_URL=url)
        assert one.get("/sign-in/") == 200
        assert eventually(lambda: database.execute(DONE).fetchone()[0] > 0, seconds=60)
        one.process.send_signal(signal.SIGTERM)
        assert one.last_words()[0] == "Stopped.\n"


@pytest.mark.redis
def test_with_redis_the_same_work_is_done_by_celery_and_nobody_is_left_behind(planner, redis_url):
    one = planner(REDIS_URL=redis_url)
    assert all(one.pid_of(word) for word in (b"clock@", b"notices@", b"jobs@", b"beat"))
    assert eventually(lambda: jobs_done(one) and {"schedule", "clock", "notices", "jobs"} <= alive(one), seconds=60)
    one.process.send_signal(signal.SIGTERM)
    assert one.last_words()[0].endswith("Stopped.\n")
    assert gone(one.members)


def test_a_taken_port_is_one_sentence():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} is taken.*--port {port + 1}"):
            call_command("start", "--port", str(port))


@pytest.fixture
def prepared(db, monkeypatch, settings):
    """What `start` says while it prepares, with the steps that need no test here left out."""
    called: list[str] = []
    monkeypatch.setattr(start, "call_command", lambda name, **_: called.append(name))

    def prepare(*, demo: bool = True, https: bool = False) -> tuple[bool, str]:
        settings.HTTPS, said = https, StringIO()
        start.Command(stdout=said).prepare(demo)
        return "demo" in called, said.getvalue()

    return prepare


def test_the_first_start_loads_the_demo(prepared):
    assert prepared() == (True, "First start: loading the demo.\n")


@pytest.mark.parametrize("asked", [{"demo": False}, {"https": True}])
def test_no_demo_where_it_is_not_wanted_or_the_planner_is_served_to_others(prepared, asked):
    loaded, said = prepared(**asked)
    assert not loaded and "add_person adds the first person" in said


def test_a_later_start_tells_the_sign_ins_of_the_demo_again(prepared):
    Staff.objects.create(username="joan", name="Joan Petherick", is_lead=True, demo=True)
    loaded, said = prepared()
    assert not loaded and "Joan Petherick" in said and PASSWORD in said


@pytest.mark.parametrize(("demo", "said", "given"), [(True, {}, "folder:"), (True, OWN, OWN[MAIL]), (False, {}, None)])
def test_the_e_mail_of_a_demo_goes_into_a_folder_unless_somebody_said_otherwise(monkeypatch, demo, said, given):
    monkeypatch.setattr(start, "holds_demo", lambda: demo)
    monkeypatch.delenv(MAIL, raising=False)
    for name, value in said.items():
        monkeypatch.setenv(name, value)
    assert start.environment(dev=False).get(MAIL) == given


def test_a_database_of_a_real_service_gets_no_demo(prepared):
    Staff.objects.create(username="thea", name="Thea Marsh", is_lead=True)
    assert prepared() == (False, "")
