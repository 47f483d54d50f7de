"""The runner of the lanes: nothing passes that did not run."""

import pytest

from tests import run
from tests.run import Result

PASSED = Result("pure", "passed", "12 passed in 1.00s", 1.0)
ABSENT = Result("redis", "COULD NOT RUN", "redis-server is missing: on Debian, apt install redis-server", 0.0)


@pytest.mark.parametrize(
    ("results", "ci", "status"),
    [
        ([PASSED], "true", 0),
        ([PASSED, ABSENT], "", 0),
        ([PASSED, ABSENT], "true", 1),
        ([PASSED, Result("sqlite", "FAILED", "1 failed", 1.0)], "", 1),
        ([PASSED, Result("browser", "NO TESTS", "no tests ran", 1.0)], "", 1),
    ],
)
def test_a_lane_that_failed_or_found_no_tests_fails_all_and_in_ci_one_that_could_not_run(
    monkeypatch, results, ci, status
):
    monkeypatch.setenv("CI", ci)
    assert run.summary(results) == status


def test_a_lane_that_could_not_run_is_said_loudly(capsys):
    run.summary([PASSED, ABSENT])
    assert "!!! The redis lane COULD NOT RUN: redis-server is missing" in capsys.readouterr().out


def test_one_failing_check_fails_its_lane_and_is_named():
    assert run.judged([("ruff check", 0, ""), ("mypy", 1, "Found 2 errors"), ("lint-imports", 0, "")]) == (
        "FAILED",
        "failed: mypy",
    )


def test_lanes_that_ran_beside_others_are_told_in_the_order_they_were_asked_for(monkeypatch):
    monkeypatch.setattr(run, "run_lane", lambda lane: Result(lane.name, "passed", "", float(lane.beside)))
    chosen = run.lanes()
    results = run.run_lanes(chosen)
    assert [(result.lane, bool(result.seconds)) for result in results] == [(lane.name, lane.beside) for lane in chosen]
    assert {lane.name for lane in chosen if lane.beside} == {"lint", "deploy", "redis"}


def test_what_the_lanes_miss_is_asked_of_apt_at_once_and_each_lane_still_asks_whether_it_is_there(monkeypatch):
    asked: list[list[str]] = []
    monkeypatch.setattr(run, "found", lambda lane: lane.name == "deploy")
    monkeypatch.setattr(run.os, "geteuid", lambda: 0)
    monkeypatch.setattr(run.scratch, "find", lambda program: program)
    monkeypatch.setattr(run.subprocess, "run", lambda command, **_: asked.append(command))
    run.install(run.lanes())
    needed = {package for lane in run.lanes() for package in lane.package.split()}
    assert [command[2] for command in asked] == ["update", "install"] and needed <= set(asked[1])
    assert not any(run.available(lane) for lane in run.lanes() if lane.program)


def test_finding_no_tests_is_not_passing():
    assert run.judged([("pytest", run.NO_TESTS, "no tests ran in 0.01s")])[0] == "NO TESTS"


def test_every_test_belongs_to_a_lane():
    commands = {lane.name: lane.commands[0] for lane in run.lanes()}
    outside = {name: ignored(commands[name]) for name in ("sqlite", "postgresql")}
    pure = {part for part in commands["pure"] if part.startswith("tests/")}
    apart = pure | {"tests/browser", "tests/drills"}
    assert outside["sqlite"] & outside["postgresql"] == apart, "nothing else is left out of both"
    assert outside["postgresql"] - apart == {f"tests/{path}" for path in run.ON_SQLITE}
    assert outside["sqlite"] - apart == {f"tests/{path}" for path in run.ON_POSTGRESQL}


@pytest.mark.parametrize(("mark", "folder"), [("browser", "browser"), ("redis", "house")])
def test_what_needs_a_browser_or_redis_lies_where_its_lane_looks(mark, folder):
    """A lane looks into its own folder only: reading through all tests costs more than running these."""
    marked = {
        path.parent.name for path in (run.ROOT / "tests").rglob("test_*.py")
        if f"pytest.mark.{mark}\n" in path.read_text()
    }  # fmt: skip
    assert marked == {folder}


def test_what_a_lane_leaves_out_is_there():
    assert all((run.ROOT / "tests" / path).exists() for path in (*run.ON_SQLITE, *run.ON_POSTGRESQL))


def ignored(command: list[str]) -> set[str]:
    return {part.removeprefix("--ignore=") for part in command if part.startswith("--ignore=")}
