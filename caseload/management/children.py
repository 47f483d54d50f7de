"""Child processes that live and die together: all stop on a signal, and when one of them ends by itself.

Each gets a session of its own, so that Ctrl-C reaches only the parent, which then stops the others in order.
"""

import ctypes
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

GRACE_SECONDS = 10
PR_SET_PDEATHSIG = 1  # prctl(2), Linux only


class Children:
    """Start with `start`, wait with `wait_until`, and always end with `stop`."""

    def __init__(self) -> None:
        self.stopping = stop_on_signals()
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def start(self, name: str, command: list[str], folder: Path, environment: Mapping[str, str]) -> None:
        prepare = end_with_parent() if sys.platform == "linux" else None
        self.running[name] = subprocess.Popen(
            command,
            cwd=folder,
            env=environment,
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=prepare,
        )

    def ended(self) -> list[str]:
        return [name for name, child in self.running.items() if child.poll() is not None]

    def wait_until(self, done: Callable[[], bool], limit_seconds: float = float("inf")) -> bool:
        """Wait until `done`; false when a signal, the end of a child or the limit came first."""
        limit = time.monotonic() + limit_seconds
        while not done():
            if self.stopping.wait(0.2) or self.ended() or time.monotonic() > limit:
                return False
        return True

    def stop(self) -> None:
        """Ask every child to stop; kill, with all it started, what is still there after the grace."""
        for child in self.running.values():
            child.terminate()
        limit = time.monotonic() + GRACE_SECONDS
        for child in self.running.values():
            with suppress(subprocess.TimeoutExpired):
                child.wait(max(0, limit - time.monotonic()))
            kill_session(child)


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
