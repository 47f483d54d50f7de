"""Run every test and every check there is, in lanes, and say at the end what ran, what failed and what could not run.

    python tests/run.py              all lanes
    python tests/run.py lint sqlite  only these
    python tests/run.py --install    only install what lanes need from the system, all at once

What a lane needs from the system is installed with apt when this runs as root. A lane that cannot run is said loudly;
with CI=true it is a failure.
"""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests import scratch  # noqa: E402

PURE = ("timetable", "published", "wording", "booking", "waits", "measures", "exchange", "parsing", "access")
ON_SQLITE = (
    "demo", "journeys", "outreach", "house/test_background.py", "house/test_backup_files.py", "house/test_celery.py",
    "house/test_children.py", "house/test_contracts.py", "house/test_deployment.py", "house/test_export.py",
    "house/test_headers.py", "house/test_locks.py", "house/test_logs.py", "house/test_mail_setting.py",
    "house/test_makefile.py", "house/test_run.py", "house/test_settings.py", "house/test_sqlite.py",
    "house/test_start.py", "house/test_upgrade.py", "intake/test_columns_and_files.py", "intake/test_command.py",
    "intake/test_pages.py", "record/test_demo_or_real.py", "record/test_foreseen.py", "record/test_notices_sent.py",
    "record/test_patient_file.py", "record/test_random_lives.py", "record/test_refusals.py",
    "record/test_roles_of_acts.py", "record/test_trail_forward.py",
    "web/test_booking_pages.py", "web/test_dayline.py", "web/test_diary.py", "web/test_drafts.py",
    "web/test_episode_visits.py", "web/test_errors.py", "web/test_feed.py", "web/test_filings.py", "web/test_fill.py",
    "web/test_headers_everywhere.py", "web/test_jobs.py", "web/test_lines.py", "web/test_markers.py",
    "web/test_measure_chart.py", "web/test_measurements.py", "web/test_need.py", "web/test_need_chart.py",
    "web/test_columns.py", "web/test_notices.py",
    "web/test_paging.py", "web/test_password_again.py", "web/test_patient_waits.py", "web/test_people.py",
    "web/test_plan_sheet.py",
    "web/test_policy.py", "web/test_privacy.py", "web/test_reach_of_lists.py", "web/test_reason.py",
    "web/test_record_care.py", "web/test_record_closing.py",
    "web/test_record_dates.py", "web/test_record_episodes.py", "web/test_record_findings.py",
    "web/test_record_pages.py", "web/test_record_patients.py", "web/test_record_roles.py", "web/test_red_flags.py",
    "web/test_rehousing.py", "web/test_rehousing_moving.py", "web/test_rule_changes.py",
    "web/test_rules_page.py", "web/test_saved_visit.py",
    "web/test_idle_lock.py", "web/test_second_factor.py", "web/test_sessions_of_person.py",
    "web/test_sessions_pages.py", "web/test_sign_in.py", "web/test_staff_cautions.py", "web/test_to_be_told.py",
    "web/test_trail_replay.py",
    "web/test_today_page.py", "web/test_today_sessions.py", "web/test_visit_page.py", "web/test_visit_whose.py",
    "web/test_wait_charts.py", "web/test_wait_charts_apart.py", "web/test_wait_files.py", "web/test_wait_patients.py",
    "web/test_waits_form.py", "web/test_waits_page.py", "web/test_waits_report.py",
    "intake/test_changes.py", "intake/test_forgetting.py", "intake/test_verdicts.py", "record/test_closing.py",
    "record/test_measurements.py", "record/test_people.py", "record/test_undo.py", "record/test_visits_next.py",
    "record/test_visits_started.py", "record/test_visits_withdrawn.py", "record/test_walk_ins.py",
    "record/test_yours.py", "web/test_notices_letters.py", "web/test_sign_in_limits.py", "web/test_trail.py",
    "house/test_metrics.py", "record/test_filling.py", "record/test_sessions_commands.py", "record/test_together.py",
    "record/test_visits.py", "web/test_caseload_list.py", "web/test_overdue_list.py",
    "web/test_to_book.py", "web/test_to_book_rule.py", "benchmarks/size/test_data.py",
)  # fmt: skip
"""Words, looks, forms and lists: the acts behind them are tested on both engines (`test_every_act`), as are constraints
and reach, and PostgreSQL is asked every list by nonsense and by chance. So is what follows from those acts alone."""
ON_POSTGRESQL = (
    "intake/test_bad_input.py",
    "record/test_notices_at_once.py",
    "record/test_visit_machine.py",
    "record/test_waits_at_once.py",
    "web/test_fuzz.py",
    "web/test_lists_fuzz.py",
    "web/test_record_fuzz.py",
    "web/test_visit_fuzz.py",
)
"""Nonsense, asked of the stricter engine: SQLite takes a zero character and a text that is too long; and locks of rows,
which SQLite has none of; and the random hands of `visit_machine`, which take long."""
BIN = Path(sys.executable).parent
# A worker keeps the tests of a module together, so that what a module shares is built once, and takes over at the end.
PYTEST = [sys.executable, "-m", "pytest", "-q", "-n", "2", "--dist", "worksteal"]
INSTALLING = Lock()
NO_TESTS = 5  # pytest's exit status when it found nothing to run
# Empty beats a developer's .env, so that every machine tests the same settings. What Python compiled is kept: without
# it every process of every lane reads the sources anew, which is ten seconds each where all tests are collected.
PLAIN = {
    "DATABASE_URL": "", "REDIS_URL": "", "CASELOAD_HTTPS": "false", "CASELOAD_DEBUG": "false", "CASELOAD_MAIL_URL": "",
    "PYTHONDONTWRITEBYTECODE": "",
}  # fmt: skip
DEPLOYED = {"CASELOAD_HTTPS": "true", "CASELOAD_HOSTS": "planner.example.org"}


@dataclass(frozen=True)
class Lane:
    """Each `program` must be on the machine, each `package` brings one on Debian; a server's URL goes into `variable`.

    What keeps one core at most, or waits more than it works, runs `beside` the lanes that use all of them.
    """

    name: str
    commands: list[list[str]]
    program: str = ""
    package: str = ""
    variable: str = ""
    settings: dict[str, str] = field(default_factory=dict)
    beside: bool = False

    def server(self) -> AbstractContextManager[str]:
        return scratch.postgresql() if self.variable else nullcontext("")


@dataclass(frozen=True)
class Result:
    lane: str
    verdict: str
    closing: str
    seconds: float


def lanes() -> list[Lane]:
    pure = [f"tests/{name}" for name in PURE if (ROOT / "tests" / name).is_dir()]
    apart = [*pure, "tests/browser", "tests/drills"]
    rest = ["tests", "-m", "not redis", *(f"--ignore={folder}" for folder in apart)]
    once, strict = (([f"--ignore=tests/{path}" for path in paths]) for paths in (ON_SQLITE, ON_POSTGRESQL))
    heart = [f"--cov=caseload.{name}" for name in ("timetable", "booking", "measures", "waits")]
    covered = [*heart, "--cov-branch", "--cov-report=term-missing:skip-covered"]
    deploy = [sys.executable, "manage.py", "check", "--deploy", "--fail-level=INFO"]
    needed = ("initdb redis-server ip", "postgresql redis-server iproute2")
    on_redis = [*PYTEST, "tests/house", "-m", "redis", "-n", "0"]
    # How the tables came about is the business of the other lanes: here they are made at once.
    in_chromium = [*PYTEST, "tests/browser", "--nomigrations"]
    return [
        Lane("lint", lint(), beside=True),
        Lane("deploy", [deploy], settings=DEPLOYED, beside=True),
        Lane("pure", [[*PYTEST, *pure, *covered, "--cov-fail-under=100"]]),
        Lane("sqlite", [[*PYTEST, *rest, *strict]]),
        Lane("postgresql", [[*PYTEST, *rest, *once]], "initdb", "postgresql", "DATABASE_URL"),
        Lane("redis", [on_redis], "redis-server", "redis-server", beside=True),
        Lane("drills", [[*PYTEST, "tests/drills", "-n", "0"]], *needed),
        Lane("browser", [in_chromium], "chromium", "chromium"),
    ]


def lint() -> list[list[str]]:
    return [
        [f"{BIN}/ruff", "format", "--check", "--quiet", "."],
        [f"{BIN}/ruff", "check", "--quiet", "."],
        [f"{BIN}/mypy"],
        [f"{BIN}/lint-imports"],
        [f"{BIN}/djlint", "--check", "--lint", "--quiet", "templates"],
        [sys.executable, "manage.py", "makemigrations", "--check", "--dry-run"],
    ]


def run_lanes(chosen: list[Lane]) -> list[Result]:
    """Run those that need all cores one after another, the others one after another beside them; results in order."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        beside = pool.map(run_lane, [lane for lane in chosen if lane.beside])
        found = [run_lane(lane) for lane in chosen if not lane.beside]
        found += beside
    names = [lane.name for lane in chosen]
    return sorted(found, key=lambda result: names.index(result.lane))


def run_lane(lane: Lane) -> Result:
    began = time.monotonic()
    print(f"\n━━━ {lane.name}", flush=True)
    tag = f"{lane.name} │ " if lane.beside else ""
    if lane.program and not available(lane):
        why = f"{lane.program} is missing: on Debian, apt install {lane.package}"
        return Result(lane.name, "COULD NOT RUN", why, time.monotonic() - began)
    try:
        with lane.server() as url:
            environment = environment_of(lane, url)
            outcomes = [run_command(command, environment, tag) for command in lane.commands]
    except (RuntimeError, OSError, subprocess.CalledProcessError) as error:
        return Result(lane.name, "COULD NOT RUN", str(error), time.monotonic() - began)
    return Result(lane.name, *judged(outcomes), time.monotonic() - began)


def judged(outcomes: list[tuple[str, int, str]]) -> tuple[str, str]:
    """The verdict over a lane's commands and its closing line, which names those of several that failed."""
    failed = [name for name, status, _ in outcomes if status]
    if len(outcomes) > 1:
        return ("FAILED", "failed: " + ", ".join(failed)) if failed else ("passed", f"{len(outcomes)} checks")
    _, status, closing = outcomes[0]
    return {0: "passed", NO_TESTS: "NO TESTS"}.get(status, "FAILED"), closing


def available(lane: Lane) -> bool:
    with INSTALLING:
        install([lane])
        return found(lane)


def install(wanted: list[Lane]) -> None:
    """Install what these lanes need and is not there, if this may; whether it then is there, each lane asks itself."""
    missing = sorted({package for lane in wanted if not found(lane) for package in lane.package.split()})
    if missing and os.geteuid() == 0 and scratch.find("apt-get"):
        quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        print(f"Installing {' '.join(missing)}", flush=True)
        subprocess.run(["apt-get", "-qq", "update"], env=quiet)
        ask = ["apt-get", "-qq", "install", "--yes", "--no-install-recommends", *missing]
        subprocess.run(ask, env=quiet, stdout=subprocess.DEVNULL)


def found(lane: Lane) -> bool:
    return all(scratch.find(program) for program in lane.program.split())


def environment_of(lane: Lane, url: str | None) -> dict[str, str]:
    inherited = {name: value for name, value in os.environ.items() if not name.startswith("CASELOAD_")}
    return inherited | PLAIN | lane.settings | ({lane.variable: url} if url else {})


def run_command(command: list[str], environment: dict[str, str], tag: str = "") -> tuple[str, int, str]:
    """Run, show the output as it comes, and return what ran, its exit status and the last line that says something."""
    closing, name = "", " ".join(command).replace(f"{BIN}/", "")
    print(f"{tag}$ {name}", flush=True)
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as p:
        for line in p.stdout or ():
            print(tag + line, end="", flush=True)
            closing = line.strip() or closing
    return " ".join(name.split()[:3]), p.returncode, closing


def summary(results: list[Result]) -> int:
    """Print the table and return the exit status."""
    in_ci = os.environ.get("CI", "").lower() == "true"
    print("\n━━━ summary")
    for result in results:
        print(f"{result.lane:<11} {result.verdict:<13} {result.seconds:6.1f} s  {result.closing}")
    absent = [result for result in results if result.verdict == "COULD NOT RUN"]
    for result in absent:
        print(f"\n!!! The {result.lane} lane COULD NOT RUN: {result.closing}")
    failed = [result for result in results if result.verdict in ("FAILED", "NO TESTS")]
    print(f"\n{len(results)} lanes, {len(failed)} failed, {len(absent)} could not run.")
    return 1 if failed or (absent and in_ci) else 0


def main(wanted: list[str]) -> int:
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    if wanted == ["--install"]:
        install(lanes())
        return 0
    known = {lane.name: lane for lane in lanes()}
    if unknown := set(wanted) - set(known):
        sys.exit(f"No such lane: {', '.join(sorted(unknown))}. There are: {', '.join(known)}.")
    return summary(run_lanes([known[name] for name in known if not wanted or name in wanted]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
