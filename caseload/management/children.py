"""Child processes that live and die together: all stop on a signal, and when one of them ends by itself.

One that may end for a reason outside it (Redis went away) is started again instead, later each time. Each gets a
session of its own, so that Ctrl-C reaches only the parent, which then stops the others in order.
"""

import ctypes
import logging
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

GRACE_SECONDS = 10
SETTLED_SECONDS = 60
LONGEST_PAUSE_SECONDS = 30
PR_SET_PDEATHSIG = 1  # prctl(2), Linux only

log = logging.getLogger("caseload.start")


@dataclass
class Child:
    """`again` says that it is started anew when it ends; `ends` counts how often it did within a minute of life."""

    command: list[str]
    folder: Path
    environment: Mapping[str, str]
    again: bool = False
    ends: int = 0
    due: float | None = None

    def start(self) -> None:
        self.due, self.began = None, time.monotonic()
        self.process = subprocess.Popen(
            self.command,
            cwd=self.folder,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=end_with_parent() if sys.platform == "linux" else None,
        )

    def has_ended(self) -> bool:
        return self.process.poll() is not None

    def put_off(self) -> float:
        """Seconds until it is to be started again: twice as many each time, one after a minute of life."""
        self.ends = 0 if time.monotonic() - self.began > SETTLED_SECONDS else self.ends + 1
        pause = float(min(2**self.ends, LONGEST_PAUSE_SECONDS))
        self.due = time.monotonic() + pause
        return pause


class Children:
    """Start with `start`, wait with `wait_until`, and always end with `stop`."""

    def __init__(self) -> None:
        self.stopping = stop_on_signals()
        self.running: dict[str, Child] = {}

    def start(
        self, name: str, command: list[str], folder: Path, environment: Mapping[str, str], again: bool = False
    ) -> None:
        self.running[name] = Child(command, folder, environment, again)
        self.running[name].start()

    def ended(self) -> list[str]:
        """Those that have ended and are not started again."""
        return [name for name, child in self.running.items() if child.has_ended() and not child.again]

    def revive(self) -> None:
        for name, child in self.running.items():
            if child.again and child.has_ended():
                if child.due is None:
                    log.warning("%s has ended; it is started again in %d s.", name, child.put_off())
                elif time.monotonic() >= child.due:
                    child.start()

    def wait_until(self, done: Callable[[], bool], limit_seconds: float = float("inf")) -> bool:
        """Wait until `done`; false when a signal, the end of a child or the limit came first."""
        limit = time.monotonic() + limit_seconds
        while not done():
            self.revive()
            if self.stopping.wait(0.2) or self.ended() or time.monotonic() > limit:
                return False
        return True

    def stop(self) -> None:
        """Ask every child to stop; kill, with all it started, what is still there after the grace."""
        for child in self.running.values():
            child.process.terminate()
        limit = time.monotonic() + GRACE_SECONDS
        for child in self.running.values():
            with suppress(subprocess.TimeoutExpired):
                child.process.wait(max(0, limit - time.monotonic()))
            kill_session(child.process)


def stop_on_signals() -> threading.Event:
    stopping = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        # Under nohup the hang-up is ignored already: whoever asked for that wants to outlive the terminal.
        if number != signal.SIGHUP or signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, lambda *_: stopping.set())
    return stopping


def end_with_parent() -> Callable[[], None]:
    """What a new child runs so that the kernel ends it should the parent be killed outright."""
    prctl = ctypes.CDLL(None).prctl

    def ask_kernel() -> None:
        prctl(PR_SET_PDEATHSIG, signal.SIGTERM)

    return ask_kernel


def kill_session(child: subprocess.Popen[bytes]) -> None:
    with suppress(ProcessLookupError):
        os.killpg(child.pid, signal.SIGKILL)
    child.wait()
