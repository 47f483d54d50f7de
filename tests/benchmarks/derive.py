"""How fast timetables are derived: `python -m tests.benchmarks.derive [EPISODES]`.

Everything is timed side by side in one run, on one core, best of five rounds taken in turn, because other work on the
machine moves every figure alike: read the ratios. The yardsticks are reading the same episodes with the json module,
and a bare loop that only adds each rule's days to each surgery date. Memory is the peak over a stream of episodes that
nobody keeps.
"""

import json
import sys
import tracemalloc
from collections.abc import Callable, Iterable
from datetime import date, timedelta

from caseload.exchange.episode_lines import read_episode
from caseload.timetable.calendar import OpenDays
from caseload.timetable.derive import derive
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.regions import open_days
from tests.benchmarks import table
from tests.benchmarks.episodes import episodes
from tests.benchmarks.measuring import timed
from tests.exchange.said import episode_body
from tests.timetable.builders import REGIONS, TWO_WEEK

TODAY = date(2026, 3, 1)
ROUNDS = 5
STREAMED = 100_000
GOAL = 10_000


def bare_sums(facts: Iterable[EpisodeFacts]) -> None:
    """The least that any derivation must do: four windows and fourteen days for each episode."""
    spans = [timedelta(days=days) for rule in TWO_WEEK.follow_ups[:4] for days in rule.days]
    spans += [timedelta(days=rule.from_day) for rule in TWO_WEEK.activities[:14]]
    for each in facts:
        if each.surgery_on:
            [each.surgery_on + span for span in spans]


def derive_all(facts: Iterable[EpisodeFacts], calendar: OpenDays) -> None:
    for each in facts:
        derive(each, TWO_WEEK, calendar, as_of=TODAY)


def main(count: int) -> None:
    known = list(episodes(count))
    lines = [json.dumps(episode_body(facts)).encode() for facts in known]
    warm = open_days(REGIONS["GB-ENG"])
    work: dict[str, Callable[[], object]] = {
        "read with the json module": lambda: [json.loads(line) for line in lines],
        "read as facts, every field checked": lambda: [read_episode(line) for line in lines],
        "bare sums of dates": lambda: bare_sums(known),
        "derive with reasons, calendar warm": lambda: derive_all(known, warm),
        "derive with reasons, calendar cold": lambda: derive_all(known, open_days(REGIONS["GB-ENG"])),
    }
    best = dict.fromkeys(work, float("inf"))
    for _ in range(ROUNDS):
        for name, each in work.items():
            best[name] = min(best[name], timed(each).own)
    unit = best["read with the json module"]
    print(table.head("Timetables", "Episodes a second", "Times json", "Goal", "Met"))
    for name, took in best.items():
        own = name.startswith("derive")
        goal = (f"≥ {GOAL:,}", table.met(count / took >= GOAL)) if own else ("", "")
        print(table.line(name, f"{count / took:,.0f}", f"{took / unit:.1f}", *goal))


def memory() -> None:
    """The peak while a stream is derived, for a tenth of it and for all of it: flat if they are alike."""
    for count in (STREAMED // 10, STREAMED):
        calendar = open_days(REGIONS["GB-ENG"])
        tracemalloc.start()
        derive_all(episodes(count), calendar)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        print(table.line(f"peak memory over {count:,} streamed", f"{peak / 2**20:.1f} MiB", "", "", ""))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
    memory()
