"""What a piece of work takes: seconds and memory of this process."""

import resource
import statistics
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Generic, NamedTuple, TypeVar

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)


class Took(NamedTuple, Generic[T_co]):
    """Seconds by the wall clock, and of this process's own work; what came of it."""

    wall: float
    own: float
    came: T_co


def timed(do: Callable[[], T]) -> Took[T]:
    wall, own = time.perf_counter(), time.process_time()
    came = do()
    return Took(time.perf_counter() - wall, time.process_time() - own, came)


def ratios(name: str, pairs: Sequence[tuple[Took[object], Took[object]]], goal: str = "") -> None:
    """Prints the median of one side against that of the other."""
    sides: tuple[tuple[str, Callable[[Took[object]], float]], ...] = (
        ("wall clock", lambda took: took.wall), ("own work", lambda took: took.own)
    )  # fmt: skip
    for what, of in sides:
        left, right = (statistics.median(of(each[side]) for each in pairs) for side in (0, 1))
        print(f"{name} by {what}: {left / right:.2f} ({1000 * left:.1f} / {1000 * right:.1f} ms){goal}")


def p95(values: Iterable[float]) -> float:
    known = list(values)
    return statistics.quantiles(known, n=20, method="inclusive")[-1] if len(known) > 1 else known[0]


def most_memory() -> int:
    """The most that this process has had, in megabytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
