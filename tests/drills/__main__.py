"""The planner is hurt while people work on it, and what they were told is saved is looked for afterwards.

    python -m tests.drills kill --minutes 5 --database postgresql
    python -m tests.drills redis --minutes 4
    python -m tests.drills twice --minutes 2 --database sqlite
    python -m tests.drills disk backup hosts --short

Prints a table and ends with 1 if anything was lost, done twice, or not as it should be. `--short` is what the tests
run: a few seconds for each, claims of some seconds in place of two minutes.
"""

import argparse
import json
import sys
import time
from contextlib import AbstractContextManager, ExitStack
from dataclasses import asdict
from pathlib import Path

from tests.drills.hosts import hosts, network
from tests.drills.hurting import DRILLS
from tests.drills.stage import Stage, stage
from tests.drills.table import judged, rows_of, shown

SHORT_CLAIM_SECONDS = 4
SHORT_PACE = 2.0
"""So many times slower do people work in the short form."""
SHORT = {"twice": 0.5, "kill": 6.0, "redis": 6.0, "disk": 2.0, "backup": 0.0, "hosts": 3.0}
"""Seconds of each in the short form."""
ONLY_ON_POSTGRESQL = frozenset({"redis", "hosts"})


def main() -> int:
    said = asked()
    began = time.monotonic()
    with ExitStack() as stack:
        on = stack.enter_context(_stage(said, stack))
        ready = time.monotonic() - began
        for name in said.drills:
            carry_out(on, name, SHORT[name] if said.short else said.minutes * 60)
        found = on.end()
        if said.logs:
            keep_logs(on, said.logs)
    rows = rows_of(on, found)
    judged(on, found, rows)
    print(shown(on, found, rows))
    print(f"{ready:.0f} s until everything ran, {time.monotonic() - began:.0f} s in all.")
    if said.json:
        results = {"faults": on.faults, "remarks": on.remarks, "rows": [asdict(row) for row in rows]}
        said.json.write_text(json.dumps(results))
    return 1 if on.faults else 0


def asked() -> argparse.Namespace:
    asking = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asking.add_argument("drills", nargs="+", choices=[*SHORT])
    asking.add_argument("--minutes", type=float, default=2, help="of each drill (default: %(default)s)")
    asking.add_argument("--database", choices=["postgresql", "sqlite"], default="postgresql")
    asking.add_argument("--short", action="store_true")
    asking.add_argument("--logs", type=Path, help="keep what the processes said in this folder")
    asking.add_argument("--json", type=Path, help="write the results there too")
    said = asking.parse_args()
    if said.database == "sqlite" and ONLY_ON_POSTGRESQL & {*said.drills}:
        asking.error(f"only with PostgreSQL and Redis: {', '.join(sorted(ONLY_ON_POSTGRESQL & {*said.drills}))}")
    return said


def _stage(said: argparse.Namespace, stack: ExitStack) -> AbstractContextManager[Stage]:
    net = stack.enter_context(network()) if "hosts" in said.drills else None
    pace, claim = (SHORT_PACE, SHORT_CLAIM_SECONDS) if said.short else (1.0, 0)
    return stage(said.database, disk="disk" in said.drills, network=net, claim_seconds=claim, pace=pace)


def keep_logs(on: Stage, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for member in on.keeper.members.values():
        (folder / f"{member.name}.log").write_text(member.text())


def carry_out(on: Stage, name: str, seconds: float) -> None:
    try:
        if name == "twice":
            on.phase("two clocks", seconds)
            on.drain("two clocks", 60 + (on.claim_seconds or 120))
        else:
            (DRILLS | {"hosts": hosts})[name](on, seconds)
    except (OSError, AssertionError) as error:
        on.fault(name, repr(error))


if __name__ == "__main__":
    sys.exit(main())
