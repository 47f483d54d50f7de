"""Several acts that begin at the same moment, each as a process of its own would: with its own connection."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connections

from caseload.errors import Refusal


def at_once(*acts: Callable[[], object]) -> list[object]:
    """What each answers, or the code of its refusal. Any other fault is raised."""
    start = Barrier(len(acts))

    def answer(act: Callable[[], object]) -> object:
        try:
            start.wait()
            return act()
        except Refusal as refusal:
            return refusal.code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(acts)) as threads:
        return [found.result() for found in [threads.submit(answer, act) for act in acts]]
