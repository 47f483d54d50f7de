"""Health: whether the process answers, and whether it can work. Asked by machines that have no name and no session."""

import threading

import pytest
from django.db import OperationalError
from django.test import Client

from caseload.web.views import health

PROBES = ["/livez", "/readyz"]


@pytest.fixture
def well(monkeypatch):
    """A database that answers, without one."""
    monkeypatch.setattr(health, "fault", lambda: "")


def test_a_process_that_answers_is_alive_whatever_the_database_does(client):
    answer = client.get("/livez")
    assert (answer.status_code, answer.content) == (200, b"alive\n")


@pytest.mark.parametrize("path", PROBES)
def test_probes_come_by_any_host_name_and_over_plain_http_without_a_session(client, settings, well, path):
    settings.SECURE_SSL_REDIRECT = True
    answer = client.get(path, headers={"host": "10.0.0.7:8000"})
    assert answer.status_code == 200 and not answer.cookies


def test_ready_means_that_the_database_answers_and_has_every_table(db):
    assert health.fault_in_time() == ""


def ready(client: Client) -> tuple[int, str]:
    answer = client.get("/readyz")
    return answer.status_code, answer.content.decode().strip()


def test_a_database_that_lacks_a_migration_is_not_ready(client, db, monkeypatch):
    monkeypatch.setattr(health, "wanted", lambda: frozenset({("caseload", "9999_next")}))
    assert ready(client) == (503, health.NOT_MIGRATED)


def test_a_database_that_is_gone_is_not_ready(client, monkeypatch):
    def gone(*_):
        raise OperationalError("connection to 10.0.0.9 refused")

    monkeypatch.setattr(health.MigrationRecorder, "applied_migrations", gone)
    assert ready(client) == (503, health.NO_ANSWER)


def test_a_database_that_hangs_is_not_ready_and_holds_up_nobody(client, monkeypatch):
    hanging = threading.Event()
    monkeypatch.setattr(health, "LIMIT_SECONDS", 0.01)
    monkeypatch.setattr(health, "fault", lambda: hanging.wait(60))
    assert [ready(client) for _ in range(5)] == [(503, health.NO_ANSWER)] * 5
    assert sum(thread.name.startswith("readyz") for thread in threading.enumerate()) <= 1
    assert client.get("/livez").status_code == 200
    hanging.set()


def test_probes_leave_no_line_in_the_log(client, monkeypatch, caplog):
    monkeypatch.setattr(health, "fault", lambda: health.NO_ANSWER)
    with caplog.at_level("INFO"):
        assert [client.get(path).status_code for path in PROBES] == [200, 503]
    assert [record for record in caplog.records if record.levelname != "CRITICAL"] == []
