"""The planner as it runs in use, with people at work on it, for a drill to hurt.

Two clocks always run at once (two beats, or two `background` processes), so that whatever is done is done beside that.
"""

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from tests import scratch
from tests.drills import ground, servers
from tests.drills.counting import Found, count
from tests.drills.hooked import JOB
from tests.drills.load import Load
from tests.drills.members import Member, Supervisor, answers, wait_for
from tests.mailbox import Delivered, Mailbox

T = TypeVar("T")
DESKS = 3
JOB_EVERY_SECONDS = 6.0
"""Seldom enough for a busy machine: what is drilled is how a backlog is worked off, not how it grows."""
POST_SECONDS = 0.03
NAMES = {
    "The background work": "background", "The worker for the clock": "clock", "The worker for notices": "notices",
    "The worker for long jobs": "jobs", "The schedule": "beat",
}  # fmt: skip


class PostOffice(Mailbox):
    """It takes a moment over each message, so that a process is killed between sending and recording now and then."""

    def take(self, delivered: Delivered) -> None:
        super().take(delivered)
        time.sleep(POST_SECONDS)


@dataclass
class Stage:
    """`patience` multiplies how long it may take until everything is done, `drained` says how long it took, by phase;
    `delivered` has the Message-IDs that other mail servers than `post` took."""

    keeper: Supervisor
    folder: Path
    port: int
    post: PostOffice
    claim_seconds: int
    patience: float = 1
    database: servers.Database | None = None
    broker: servers.Broker | None = None
    disk: servers.Disk | None = None
    network: Any = None
    delivered: list[str] = field(default_factory=list)
    drained: dict[str, float] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)
    faults: dict[str, list[str]] = field(default_factory=dict)
    quiet: threading.Event = field(default_factory=threading.Event)

    def environment(self, **other: str) -> dict[str, str]:
        plain = {name: value for name, value in os.environ.items() if name != "PYTEST_CURRENT_TEST"}
        return plain | {"DRILL_CLAIM_SECONDS": str(self.claim_seconds or "")} | other

    def add(self, name: str, command: list[str], **other: str) -> Member:
        return self.keeper.add(Member(name, command, self.folder, self.environment(**other)))

    def start(self) -> None:
        from caseload.management.commands import start

        self.add("web", start.web(self.port, False))
        for said, command in start.background().items():
            self.add(NAMES[said], hooked(command))
        second = "beat" if self.broker else "background"
        self.add(f"{second} 2", list(self.keeper.members[second].command))
        wait_for(lambda: answers(self.port), "the web server answers")

    def open(self, desks: list[ground.Desk], pace: float) -> None:
        self.load = Load(self.port, desks, pace)
        self.bringing = threading.Thread(target=self._bring, daemon=True)
        self.bringing.start()
        self.load.__enter__()

    def phase(self, name: str, seconds: float = 0) -> None:
        self.load.phase = name
        time.sleep(seconds)

    def fault(self, drill: str, what: str) -> None:
        self.faults.setdefault(drill, []).append(what)

    def heal(self) -> None:
        """Wait until everything runs again and a page comes back."""
        wait_for(lambda: self.keeper.up() and answers(self.port), "everything runs again")

    def drain(self, phase: str, seconds: float = 60) -> None:
        """How long it takes until everything is done that waits now; what is asked for meanwhile does not count."""
        asked(bring_forward)
        notices, jobs = asked(waiting)
        try:
            self.drained[phase] = wait_for(
                lambda: asked(lambda: done(notices, jobs)), "the backlog", seconds * self.patience
            )
        except TimeoutError as error:
            self.fault(phase, f"{error}; left: {asked(lambda: left_of(notices, jobs))}")

    def _bring(self) -> None:
        """The hour of what would go out later comes at once, and now and then somebody asks for a long job."""
        asked_at = 0.0
        while not self.quiet.wait(0.5):
            asked(bring_forward)
            if time.monotonic() - asked_at > JOB_EVERY_SECONDS:
                asked(ask_for_a_job)
                asked_at = time.monotonic()

    def end(self) -> Found:
        """Nobody begins anything new; everything asked for is done; then it is counted."""
        self.phase("afterwards")
        self.load.finish(60)
        self.quiet.set()
        self.bringing.join()
        self.drain("afterwards", 60 + 2 * (self.claim_seconds or 120))
        found = asked(lambda: count(self.load.writes, self.post.ids + self.delivered))
        found.faults += [f"a form was left without an answer: {write.answers}" for write in self.load.pending()]
        found.faults += self.load.crashed + self.load.dishonest
        return found


def hooked(command: list[str]) -> list[str]:
    """The same command with what drills add."""
    rest = command[2:] if command[1] == "-m" else command[1:]
    return [command[0], "-m", "tests.drills.hooked", *rest]


@contextmanager
def stage(database: str, *, disk: bool, network: Any, claim_seconds: int, pace: float = 1) -> Iterator[Stage]:
    with ExitStack() as stack:
        folder = stack.enter_context(scratch.folder("drills", None))
        size = servers.TMPFS_MB if database == "postgresql" else 48
        owner = servers.USER if database == "postgresql" else None
        small = stack.enter_context(servers.small_disk(size, owner)) if disk else None
        keeper = stack.enter_context(Supervisor())
        post = stack.enter_context(served(PostOffice()))
        there = Stage(keeper, folder, scratch.free_port(), post, claim_seconds, disk=small, network=network)
        if database == "postgresql":
            home = small.folder if small else stack.enter_context(scratch.folder("pg", servers.USER))
            net = network.prefix if network else ""
            there.database = servers.postgresql(home, keeper, net)
            there.broker = servers.redis(folder, keeper, net)
        setup(there)
        ground.prepare()
        desks = ground.clinic(DESKS)
        there.start()
        there.patience = pace * pace
        there.open(desks, pace)
        try:
            yield there
        finally:
            there.quiet.set()
            there.load.finish(0)


def setup(there: Stage) -> None:
    """Django in this process, over the same database as the planner."""
    file = f"sqlite:///{(there.disk.folder if there.disk else there.folder) / 'caseload.sqlite3'}"
    chosen = {
        "DATABASE_URL": there.database.url if there.database else file,
        "REDIS_URL": there.broker.url if there.broker else "",
        "CASELOAD_DATA_FOLDER": str(there.folder), "CASELOAD_HTTPS": "false", "CASELOAD_DEBUG": "false",
        "CASELOAD_MAIL_URL": f"smtp://127.0.0.1:{there.post.port}",
        "CASELOAD_MAIL_FROM": "appointments@example.org", "CASELOAD_LOG_LEVEL": "WARNING",
        "DJANGO_SETTINGS_MODULE": "clinic.settings", "PYTHONPATH": str(Path(__file__).resolve().parents[2]),
    }  # fmt: skip
    for name in [name for name in os.environ if name.startswith("CASELOAD_")]:
        del os.environ[name]
    os.environ.update(chosen)
    import django

    django.setup()


@contextmanager
def served(post: PostOffice) -> Iterator[PostOffice]:
    with post:
        serving = threading.Thread(target=post.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
        serving.start()
        try:
            yield post
        finally:
            post.closing.set()
            post.shutdown()
            serving.join()


def asked(question: Callable[[], T], seconds: float = 60) -> T:
    """An answer of the database, asked again while it is away."""
    from django.db import Error, connections

    limit = time.monotonic() + seconds
    while True:
        try:
            return question()
        except Error:
            if time.monotonic() > limit:
                raise
        finally:
            connections.close_all()
        time.sleep(0.2)


def bring_forward() -> None:
    from datetime import timedelta

    from django.utils import timezone

    from caseload.actions.turns import in_turn
    from caseload.models import Notice, NoticeState

    now = timezone.now()
    later = Notice.objects.filter(state=NoticeState.WAITING, channel="email", due_at__gt=now)
    with in_turn():
        later.update(due_at=now - timedelta(minutes=1))


def ask_for_a_job() -> None:
    from django.utils import timezone

    from caseload.actions.turns import in_turn
    from caseload.models import Job, Patient, Staff

    with in_turn():
        Job.objects.create(
            kind=JOB, asked={"patient": Patient.objects.order_by("pk").values_list("pk", flat=True)[0]},
            by=Staff.objects.get(username="desk0"), created_at=timezone.now(),
        )  # fmt: skip


def waiting() -> tuple[list[int], list[int]]:
    from caseload.models import Job, Notice, NoticeState

    notices = Notice.objects.filter(state=NoticeState.WAITING, channel="email").values_list("pk", flat=True)
    return list(notices), list(Job.objects.filter(ended_at__isnull=True).values_list("pk", flat=True))


def left_of(notices: list[int], jobs: list[int]) -> list[tuple]:
    """What is not done yet: kind, state, tries, and until when it is claimed."""
    from caseload.models import Job, Notice, NoticeState

    rows = Notice.objects.filter(pk__in=notices, state=NoticeState.WAITING, channel="email")
    shown = ("kind", "state", "tries", "claimed_until", "error")
    return [*rows.values_list(*shown)[:5], *Job.objects.filter(pk__in=jobs, ended_at=None).values_list(*shown)[:5]]


def done(notices: list[int], jobs: list[int]) -> bool:
    from caseload.models import Job, Notice, NoticeState

    if Notice.objects.filter(pk__in=notices, state=NoticeState.WAITING, channel="email").exists():
        return False
    return not Job.objects.filter(pk__in=jobs, ended_at__isnull=True).exists()
