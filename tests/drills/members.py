"""The processes of a drill, each started again when it dies, as `Restart=always` of a unit file would."""

import os
import signal
import socket
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RESTART_SECONDS = 0.3
UP_SECONDS = 180


@dataclass
class Member:
    """One process with its children. `held` says that it is not started again; `starts` counts how often it was."""

    name: str
    command: list[str]
    folder: Path
    environment: Mapping[str, str]
    user: str | None = None
    held: bool = False
    starts: int = 0
    process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self.starts += 1
        with (self.folder / f"{self.name}.log").open("ab") as log:
            self.process = subprocess.Popen(
                self.command, cwd=self.folder if self.user else ROOT, env=self.environment, user=self.user,
                stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True,
            )  # fmt: skip

    @property
    def pid(self) -> int:
        return self.process.pid if self.process else 0

    def alive(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def kill(self) -> None:
        """Only the process itself: what it started is left to itself, until it is started again."""
        self.signal(signal.SIGKILL)

    def signal(self, number: int) -> None:
        if self.alive():
            os.kill(self.pid, number)

    def children(self) -> list[int]:
        with suppress(OSError):
            return [int(pid) for pid in Path(f"/proc/{self.pid}/task/{self.pid}/children").read_text().split()]
        return []

    def clear(self) -> None:
        """End what is left of it, as the end of a unit does."""
        if self.process:
            with suppress(ProcessLookupError):
                os.killpg(self.pid, signal.SIGKILL)
            self.process.wait()

    def text(self) -> str:
        found = self.folder / f"{self.name}.log"
        return found.read_text(errors="replace") if found.exists() else ""


@dataclass
class Supervisor:
    """Keeps its members running; used as a context, at whose end nothing is left."""

    members: dict[str, Member] = field(default_factory=dict)
    ended: threading.Event = field(default_factory=threading.Event)
    died: Counter[str] = field(default_factory=Counter)

    def __enter__(self) -> "Supervisor":
        self.watching = threading.Thread(target=self._watch, daemon=True)
        self.watching.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.ended.set()
        self.watching.join()
        for member in reversed(self.members.values()):
            member.signal(signal.SIGCONT)
            member.signal(signal.SIGTERM)
        for member in reversed(self.members.values()):
            if member.process:
                with suppress(subprocess.TimeoutExpired):
                    member.process.wait(3)
            member.clear()

    def add(self, member: Member) -> Member:
        member.start()
        self.members[member.name] = member
        return member

    def hold(self, names: Iterable[str]) -> None:
        """Stop these and do not start them again."""
        for name in names:
            self.members[name].held = True
            self.members[name].clear()

    def release(self, names: Iterable[str]) -> None:
        for name in names:
            self.members[name].held = False

    def up(self) -> bool:
        return all(member.alive() or member.held for member in self.members.values())

    def _watch(self) -> None:
        while not self.ended.wait(RESTART_SECONDS):
            for member in list(self.members.values()):
                if not member.held and not member.alive():
                    self.died[member.name] += 1
                    member.clear()
                    member.start()


def wait_for(true: Callable[[], bool], what: str, seconds: float = UP_SECONDS) -> float:
    """Wait until something is true; how many seconds it took. Raises TimeoutError that says what was waited for."""
    began = time.monotonic()
    while not true():
        if time.monotonic() - began > seconds:
            raise TimeoutError(f"{what}: not in {seconds:.0f} s")
        time.sleep(0.1)
    return time.monotonic() - began


def answers(port: int, path: str = "/readyz") -> bool:
    asking = HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        asking.request("GET", path)
        return asking.getresponse().status == 200
    except (OSError, HTTPException):
        return False
    finally:
        asking.close()


def listens(address: str, port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(2)
        return probe.connect_ex((address, port)) == 0
