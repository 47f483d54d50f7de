"""The whole planner at size, on one machine in one run: what each page and each long piece of work costs.

    python -m tests.benchmarks.size --database both --open 100000 --keep FOLDER

Fills a database (kept in FOLDER, so that the next run finds it), measures, and prints tables in Markdown. A page is
told in units: the empty page of somebody signed in, in turns in the same run. `--parts` names what is measured:
pages, work, writers, load. `--stay` only keeps the server of the kept databases running, for looking at them.
"""

import json
import signal
import sys
import time
from argparse import ArgumentParser, Namespace
from pathlib import Path

from tests.benchmarks.size import chart, keeping, table

PARTS = {"pages": "asking", "work": "work", "writers": "writers", "load": "load"}
"""By name, and what measures it."""


def read() -> Namespace:
    parser = ArgumentParser(prog="python -m tests.benchmarks.size")
    parser.add_argument("--database", default="both", choices=["sqlite", "postgresql", "both"])
    parser.add_argument(
        "--open", type=int, nargs="+", default=[1000], help="so many open episodes; several for a chart"
    )
    parser.add_argument("--keep", type=Path, default=Path("var/size"), help="the folder of the filled databases")
    parser.add_argument("--parts", nargs="+", default=["pages"], choices=[*PARTS])
    parser.add_argument("--turns", type=int, default=20, help="so often each page is asked for")
    parser.add_argument("--seconds", type=float, default=60, help="how long eight writers write")
    parser.add_argument("--minutes", type=float, default=10, help="how long people work")
    parser.add_argument("--chart", type=Path, help="where to draw pages against size; needs several sizes")
    parser.add_argument("--stay", action="store_true", help="fill, and keep the server running until Ctrl-C")
    return parser.parse_args()


def main(chosen: Namespace) -> None:
    folder = chosen.keep.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    vendors = ("sqlite", "postgresql") if chosen.database == "both" else (chosen.database,)
    for vendor in vendors:
        with keeping.server(vendor, folder):
            for size in chosen.open:
                keeping.prepare(vendor, folder, size)
                if not chosen.stay:
                    measure(vendor, folder, size, chosen)
            while chosen.stay:
                time.sleep(5)
    report(folder, vendors, chosen)


def measure(vendor: str, folder: Path, size: int, chosen: Namespace) -> None:
    told = keeping.environment(vendor, folder, size)
    amounts = {"pages": chosen.turns, "work": 3, "writers": chosen.seconds, "load": chosen.minutes}
    for part in chosen.parts:
        into = folder / f"{part}-{vendor}-{size}.json"
        keeping.inside(told, PARTS[part], str(size), str(amounts[part]), str(into))


def report(folder: Path, vendors: tuple[str, ...], chosen: Namespace) -> None:
    for part in chosen.parts:
        files = [folder / f"{part}-{vendor}-{size}.json" for vendor in vendors for size in chosen.open]
        found = [row for file in files if file.exists() for row in json.loads(file.read_text())]
        print("\n" + table.of_part(part, found))
        if part == "pages" and chosen.chart:
            chosen.chart.write_text(chart.chart(found, "imogen"))


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # the server is stopped then, too
    main(read())
