"""Watching processes: what a program started, and whether it is still there (Linux, /proc)."""

import time
from collections.abc import Callable
from pathlib import Path


def descendants(pid: int) -> list[int]:
    """Every process that `pid` started, and what those started."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [other for child in map(int, children) for other in (child, *descendants(child))]


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


def eventually(true: Callable[[], bool], seconds: float = 20) -> bool:
    limit = time.monotonic() + seconds
    while not true():
        if time.monotonic() > limit:
            return False
        time.sleep(0.05)
    return True


def gone(pids: list[int]) -> bool:
    return eventually(lambda: not any(map(alive, pids)))
