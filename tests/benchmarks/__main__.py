"""Everything that is measured, one part after another on one machine, into one file of tables.

    python -m tests.benchmarks [PART…] [--keep FOLDER] [--into FILE] [--minutes 10]

Parts: timetables, waits, filling, rehousing, background, pages, work, writers, people; all of them unless some are
named. Each is a command of its own, which stands above its table; what misses its goal is listed once more at the end.
`--keep` holds the filled databases, since filling 100,000 open episodes takes minutes. All of it takes about two hours
on two cores that do nothing else.
"""

import platform
import subprocess
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

ROOT = Path(__file__).resolve().parents[2]


def parts(keep: Path, minutes: float) -> dict[str, list[str]]:
    """The commands of each part, without `python -m tests.benchmarks.`."""
    size = f"size --keep {keep}"
    return {
        "timetables": ["derive"],
        "waits": ["waits"],
        "filling": ["filling 30 60 3", "filling 300 20", "filling 2000 60", "filling 10000"],
        "rehousing": ["rehousing 20"],
        "background": ["background"],
        "pages": [f"{size} --open 1000 3000 10000 100000 --turns 5 --chart {keep / 'pages.svg'}"],
        "work": [f"{size} --open 100000 --parts work"],
        "writers": [f"{size} --open 100000 --parts writers"],
        "people": [f"{size} --open {count} --parts load --minutes {minutes:g}" for count in (3_000, 100_000)],
    }


def read() -> Namespace:
    parser = ArgumentParser(prog="python -m tests.benchmarks", description="Measure everything; tables in Markdown.")
    parser.add_argument("part", nargs="*", help="only these")
    parser.add_argument("--keep", type=Path, default=Path("var/size"), help="the folder of the filled databases")
    parser.add_argument("--into", type=Path, default=Path("var/measured.md"), help="where the tables are written")
    parser.add_argument(
        "--minutes", type=float, default=10, help="how long twenty people work, for each size and database"
    )
    chosen = parser.parse_args()
    if unknown := set(chosen.part) - set(known := parts(Path(), 0)):
        parser.error(f"There is no part {', '.join(sorted(unknown))}: it is one of {', '.join(known)}.")
    return chosen


def machine() -> str:
    """What it ran on, and when."""
    of = {name.strip(): value.strip() for name, _, value in _lines("/proc/cpuinfo", ":")}
    memory = next(value.split()[0] for name, _, value in _lines("/proc/meminfo", ":") if name == "MemTotal")
    cores = sum(name.strip() == "processor" for name, _, _ in _lines("/proc/cpuinfo", ":"))
    commit = _said("git", "rev-parse", "--short", "HEAD")
    return (
        f"{datetime.now(UTC):%d %B %Y}, {of.get('model name', platform.machine())}, {cores} cores, "
        f"{int(memory) / 2**20:.0f} GiB, Python {platform.python_version()}, {_said('psql', '--version')}, at {commit}."
    )


def _lines(file: str, between: str) -> Iterator[tuple[str, str, str]]:
    return (line.partition(between) for line in Path(file).read_text().splitlines())


def _said(*command: str) -> str:
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()


def run(command: str, into: TextIO) -> Iterator[str]:
    """What it prints is watched and kept as it comes; a part that fails says so, and the next one goes on. Gives each
    row of its tables."""
    words = [sys.executable, "-m", *f"tests.benchmarks.{command}".split()]
    into.write(f"\n`python -m tests.benchmarks.{command}`\n\n")
    with subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True) as going:
        for line in going.stdout or ():
            print(line, end="", flush=True)
            if line.startswith("|"):
                into.write(line)
                into.flush()
                yield line.strip()
    if going.returncode:
        into.write(f"\n**Ended with {going.returncode}.**\n")


def summary(found: list[tuple[str, str]]) -> Iterator[str]:
    """How many goals are met, and every row that misses its own, by part."""
    goals = [(part, row) for part, row in found if row.endswith(("| yes |", "| **no** |"))]
    missed = [(part, row) for part, row in goals if row.endswith("| **no** |")]
    yield f"\n## Goals\n\n{len(goals) - len(missed)} of {len(goals)} are met; missed are:\n"
    yield from (f"- {part}: {', '.join(cell.strip() for cell in row.split('|')[1:-2])}" for part, row in missed)


def main(chosen: Namespace) -> None:
    chosen.into.parent.mkdir(parents=True, exist_ok=True)
    found: list[tuple[str, str]] = []
    with chosen.into.open("w") as into:
        into.write(f"{machine()}\n")
        for name, commands in parts(chosen.keep.resolve(), chosen.minutes).items():
            if not chosen.part or name in chosen.part:
                into.write(f"\n## {name.capitalize()}\n")
                found += ((name, row) for command in commands for row in run(command, into))
        into.writelines(f"{line}\n" for line in summary(found))
    print(f"\nAll of it stands in {chosen.into}.")


if __name__ == "__main__":
    main(read())
