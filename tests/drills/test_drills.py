"""The short form of each drill: one planner on PostgreSQL with Redis and one on a SQLite file, hurt side by side."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests import scratch
from tests.drills.members import ROOT

FORMS = {"postgresql": ["twice", "kill", "redis", "disk", "backup", "hosts"], "sqlite": ["twice", "kill", "disk"]}
LIMIT_SECONDS = 600
"""Of a machine on which nothing moves; no drill is judged by the time it takes."""

pytestmark = [
    pytest.mark.skipif(sys.platform != "linux", reason="kills by /proc, hurts by mounts and network namespaces"),
    pytest.mark.skipif(not scratch.find("initdb") or not scratch.find("redis-server"), reason="PostgreSQL or Redis"),
]


class Results:
    def __init__(self, file: Path, said: str) -> None:
        assert file.exists(), said
        found = json.loads(file.read_text())
        self.faults, self.remarks = found["faults"], found["remarks"]
        self.rows = {row["phase"]: row for row in found["rows"]}

    def faults_in(self, *drills: str) -> dict[str, list[str]]:
        return {drill: found for drill, found in self.faults.items() if drill in drills}

    def skip_if_undone(self, drill: str) -> None:
        for remark in self.remarks:
            if remark.startswith(f"!!! {drill}"):
                pytest.skip(remark)


@pytest.fixture(scope="session")
def results(tmp_path_factory) -> dict[str, Results]:
    folder, running = tmp_path_factory.mktemp("drills"), {}
    for database, drills in FORMS.items():
        command = [sys.executable, "-m", "tests.drills", *drills, "--short", "--database", database]
        command += ["--json", str(folder / database)]
        running[database] = subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
    said = {database: process.communicate(timeout=LIMIT_SECONDS)[0] for database, process in running.items()}
    print(*said.values(), sep="\n")
    return {database: Results(folder / database, said[database]) for database in FORMS}


@pytest.fixture(params=FORMS)
def each(request, results) -> Results:
    return results[request.param]


def test_every_acknowledged_write_is_there_and_none_is_there_twice(each):
    assert sum(row["acknowledged"] for row in each.rows.values()) > 0
    assert [(row["phase"], row["lost"], row["doubled"]) for row in each.rows.values()] == [
        (phase, 0, 0) for phase in each.rows
    ]


def test_notices_jobs_and_ticks_are_each_done_once_beside_two_clocks_and_every_form_is_answered(each):
    assert each.faults_in("count", "two clocks", "twice", "afterwards") == {}


def test_what_was_killed_goes_on_when_it_is_started_again(each):
    assert each.faults_in("kill", "kill -9", "after the kills") == {}
    assert each.rows["after the kills"]["pages"] > 0


def test_a_full_disk_and_a_read_only_database_are_told_and_lived_through(each):
    each.skip_if_undone("disk full")
    assert each.faults_in("disk", "disk full", "database read-only") == {}


def test_no_page_notices_what_becomes_of_redis_and_the_backlog_is_worked_off(results):
    ways = ("redis hung", "redis stopped", "redis flushed", "redis killed")
    assert results["postgresql"].faults_in("redis", "as usual", *ways) == {}
    assert all(results["postgresql"].rows[way]["drained_s"] is not None for way in ways)


def test_a_backup_in_the_middle_of_it_holds_what_was_saved_before_and_dumps_the_same_when_restored(results):
    assert results["postgresql"].faults_in("backup") == {}


def test_two_hosts_share_the_work_and_one_finishes_what_the_other_had_when_its_cable_was_pulled(results):
    results["postgresql"].skip_if_undone("two hosts")
    assert results["postgresql"].faults_in("hosts", "two hosts", "cable pulled", "cable back") == {}
