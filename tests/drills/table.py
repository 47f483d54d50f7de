"""What came of a drill, as a table: a line for each thing that was done to the planner."""

from collections import Counter
from dataclasses import dataclass

from tests.drills.counting import Found
from tests.drills.stage import Stage

FAILED = 500
NO_PAGE_FAILS = ("as usual", "redis hung", "redis stopped", "redis flushed", "redis killed", "backup", "two clocks")


@dataclass
class Row:
    phase: str
    acknowledged: int
    lost: int
    doubled: int
    unheard: int
    pages: int
    failed: int
    p50_ms: float
    p95_ms: float
    drained_s: float | None


def rows_of(on: Stage, found: Found) -> list[Row]:
    phases = dict.fromkeys([read.phase for read in on.load.reads] + [write.phase for write in on.load.writes])
    return [_row(on, found, phase) for phase in phases]


def _row(on: Stage, found: Found, phase: str) -> Row:
    writes = [write for write in on.load.writes if write.phase == phase]
    reads = [read for read in on.load.reads if read.phase == phase]
    answers = [answer for write in on.load.writes for answer in write.answers]
    waits = sorted(read.seconds * 1000 for read in reads)
    failed = sum(1 for read in reads if read.status == 0 or read.status >= FAILED)
    return Row(
        phase, sum(1 for write in writes if write.acknowledged_at), found.lost(writes), found.doubled(writes),
        sum(each == phase and (status == 0 or status >= FAILED) for each, status in answers), len(reads), failed,
        at(waits, 0.5), at(waits, 0.95), on.drained.get(phase),
    )  # fmt: skip


def at(waits: list[float], share: float) -> float:
    return round(waits[min(len(waits) - 1, int(len(waits) * share))], 1) if waits else 0.0


def judged(on: Stage, found: Found, rows: list[Row]) -> None:
    """What is not as it should be is a fault."""
    for row in rows:
        for words in [f"{row.lost} lost"] * bool(row.lost) + [f"{row.doubled} done twice"] * bool(row.doubled):
            on.fault(row.phase, words)
        if row.failed and row.phase in NO_PAGE_FAILS:
            on.fault(row.phase, f"{row.failed} pages failed: {_which(on, row.phase)}")
    for words in found.faults:
        on.fault("count", words)


def _which(on: Stage, phase: str) -> dict[str, int]:
    failed = [read for read in on.load.reads if read.phase == phase and (read.status == 0 or read.status >= FAILED)]
    return dict(Counter(f"{read.page} {read.status} after {read.seconds:.1f} s" for read in failed))


def shown(on: Stage, found: Found, rows: list[Row]) -> str:
    head = f"{'what was done':<20}{'saved':>7}{'lost':>6}{'twice':>7}{'told to try again':>19}{'pages':>7}{'failed':>8}"
    lines = [head + f"{'p50 ms':>9}{'p95 ms':>9}{'drained s':>11}"]
    for row in rows:
        drained = "" if row.drained_s is None else f"{row.drained_s:.1f}"
        lines.append(
            f"{row.phase:<20}{row.acknowledged:>7}{row.lost:>6}{row.doubled:>7}{row.unheard:>19}{row.pages:>7}"
            f"{row.failed:>8}{row.p50_ms:>9.0f}{row.p95_ms:>9.0f}{drained:>11}"
        )
    again = ", ".join(f"{name} {times}" for name, times in sorted(on.keeper.died.items())) or "nothing"
    lines += [*found.said, *on.remarks, f"started again: {again}"]
    lines += [f"FAULT in {drill}: {what}" for drill, faults in on.faults.items() for what in faults]
    return "\n".join(lines)
