"""What is done to the planner: processes killed, Redis taken away, the disk filled, a backup taken in the middle."""

import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress

from tests.drills.load import BETWEEN
from tests.drills.members import ROOT, wait_for
from tests.drills.stage import Stage

PAUSE = (0.4, 1.6)
"""Seconds between two kills."""
FIRST = ("database", "notices", "background", "beat", "a process of web", "web")
FLUSH_SECONDS = 0.2
PAGES_AT_LEAST = 3


def kill(there: Stage, seconds: float) -> None:
    """`kill -9` at random times: some of each kind at any rate, then whichever chance says."""
    chance, killed = random.Random(7), Counter[str]()
    there.phase("kill -9")
    first = [name for name in FIRST if name in targets(there)]
    until, left = time.monotonic() + seconds, first[::-1]
    while time.monotonic() < until or first[-1] not in killed:
        left = left or chance.sample(targets(there), k=len(targets(there)))
        name = left.pop()
        if "web" in name or name == "database":
            there.heal()  # a planner that is always down would have nothing acknowledged to lose
        killed[name] += strike(there, name, chance)
        time.sleep(chance.uniform(*PAUSE))
    there.heal()
    there.phase("after the kills", 1)
    wait_for(lambda: looked(there, "after the kills"), "pages came after the kills")
    there.drain("after the kills", 60 + (there.claim_seconds or 120))
    there.remarks.append(f"kill -9: {', '.join(f'{name} {times}' for name, times in sorted(killed.items()))}")
    if missed := set(targets(there)) - killed.keys():
        there.remarks.append(f"kill -9: no time for {', '.join(sorted(missed))}")


def targets(there: Stage) -> list[str]:
    forked = ["web", *(name for name in ("clock", "notices", "jobs") if name in there.keeper.members)]
    whole = [name for name in there.keeper.members if name != "redis"]
    return whole + [f"a process of {name}" for name in forked]


def strike(there: Stage, name: str, chance: random.Random) -> bool:
    """Kill a member, or one of the processes that it forked; whether there was one to kill."""
    member = there.keeper.members[name.removeprefix("a process of ")]
    if not name.startswith("a process of "):
        member.kill()
        return True
    children = member.children()
    with suppress(ProcessLookupError):
        if children:
            os.kill(chance.choice(children), signal.SIGKILL)
            return True
    return False


def redis(there: Stage, seconds: float) -> None:
    """Redis stopped, hung, flushed and started anew, with as much time as usual between, for the pages to compare."""
    broker, part = there.broker, seconds / 8
    assert broker is not None
    ways: dict[str, tuple[Callable[[], None], Callable[[], None]]] = {
        "redis hung": (broker.hang, broker.wake),
        "redis stopped": (broker.stop, broker.start),
        "redis flushed": (lambda: flush_for(there, part), lambda: None),
        "redis killed": (broker.member.kill, lambda: None),
    }
    for phase, (hurt, mend) in ways.items():
        there.phase("as usual")
        last(there, part, lambda: looked(there, "as usual"))
        there.phase(phase)
        hurt()
        last(there, 0 if phase == "redis flushed" else part, lambda phase=phase: looked(there, phase))
        mend()
        there.phase(BETWEEN)
        there.drain(phase)


def looked(there: Stage, phase: str) -> bool:
    """Whether some pages came meanwhile."""
    return sum(1 for read in there.load.reads if read.phase == phase) >= PAGES_AT_LEAST


def flush_for(there: Stage, seconds: float) -> None:
    assert there.broker is not None
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        there.broker.flush()
        time.sleep(FLUSH_SECONDS)


def disk(there: Stage, seconds: float) -> None:
    """A full disk, and a database that can only be read: pages that claim nothing, processes that live on."""
    before = {name: member.pid for name, member in there.keeper.members.items()}
    if there.disk:
        there.phase("disk full")
        there.disk.fill()
        if there.database:
            there.database.use_up_its_room()
        last(there, seconds / 2, lambda: somebody_told(there, "disk full"))
        there.disk.free()
        mended(there, "disk full")
    else:
        there.remarks.append("!!! disk full: NOT DRILLED, a small disk can only be mounted by root")
    if there.database or there.disk:
        there.phase("database read-only")
        read_only(there, True)
        last(there, seconds / 2, lambda: somebody_told(there, "database read-only"))
        read_only(there, False)
        mended(there, "database read-only")
    died = [name for name, pid in before.items() if there.keeper.members[name].pid != pid and name != "database"]
    if died:
        there.fault("disk", f"did not live on: {', '.join(died)}")


def read_only(there: Stage, on: bool) -> None:
    if there.database:
        there.database.read_only(on)
    elif there.disk:
        there.load.resting.set()  # nobody may have the file open to write into it
        wait_for(lambda: there.disk is not None and there.disk.read_only(on), "the disk is mounted otherwise")
        there.load.resting.clear()


def somebody_told(there: Stage, phase: str) -> list:
    """The forms that were answered by the page for a database that is away."""
    return [write for write in there.load.writes if (phase, 503) in write.answers]


def last(there: Stage, seconds: float, enough: Callable[[], object]) -> None:
    """Go on for so long, and on a slow machine until there is something to count, in a reasonable time."""
    time.sleep(seconds)
    with suppress(TimeoutError):
        wait_for(lambda: bool(enough()), there.load.phase)


def mended(there: Stage, phase: str) -> None:
    """There was a page that says so, and what was not saved is saved once it can be."""
    told = somebody_told(there, phase)
    there.heal()
    if not told:
        there.fault("disk", f"{phase}: nobody was told")
    there.remarks.append(f"{phase}: {len(told)} forms answered by the page that says what may not have been saved")
    there.phase(BETWEEN)
    there.drain(phase, 90)


def backup(there: Stage, seconds: float) -> None:
    """A backup in the middle of it, restored beside it: what was acknowledged before it began is there."""
    there.phase("backup")
    began, file, again = time.monotonic(), there.folder / "one.caseload", there.folder / "two.caseload"
    manage(there, "backup", str(file))
    took, elsewhere = time.monotonic() - began, another_database(there)
    manage(there, "restore", str(file), "--send-due", DATABASE_URL=elsewhere)
    manage(there, "backup", str(again), DATABASE_URL=elsewhere)
    there.phase(BETWEEN)
    writes = [write for write in there.load.writes if write.acknowledged_at and write.acknowledged_at < began]
    missing = missing_in(elsewhere, writes)
    if file.read_bytes() != again.read_bytes():
        there.fault("backup", "the restored database gives another file")
    if missing:
        there.fault("backup", f"{missing} writes acknowledged before the backup are not in it")
    there.remarks.append(f"backup: {took:.1f} s, {file.stat().st_size // 1024} KiB; restored: {len(writes)} writes "
                         f"acknowledged before it, {missing} missing; dumped again: "
                         f"{'identical' if file.read_bytes() == again.read_bytes() else 'DIFFERENT'}")  # fmt: skip


def manage(there: Stage, *command: str, **other: str) -> None:
    run = [sys.executable, "manage.py", *command]
    done = subprocess.run(run, cwd=ROOT, env=there.environment(**other), capture_output=True, text=True)
    if done.returncode:
        there.fault("backup", f"{command[0]}: {(done.stdout + done.stderr)[-400:]}")


def another_database(there: Stage) -> str:
    if there.database is None:
        return f"sqlite:///{there.folder}/restored.sqlite3"
    import psycopg

    with psycopg.connect(there.database.url, autocommit=True) as admin:
        admin.execute("DROP DATABASE IF EXISTS restored WITH (FORCE)")
        admin.execute("CREATE DATABASE restored")
    return there.database.url.replace("/postgres?", "/restored?")


def missing_in(url: str, writes: list) -> int:
    from tests.drills.counting import times_of
    from tests.house.keeping import at

    with at(url):
        times = times_of(writes)
    return sum(1 for write in writes if not times[write.key])


DRILLS: dict[str, Callable[[Stage, float], None]] = {"kill": kill, "redis": redis, "disk": disk, "backup": backup}
