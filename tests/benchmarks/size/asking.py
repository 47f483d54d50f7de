"""Asks each page in turns with the empty page, in process and through gunicorn, and tells what it cost in both.

A page that takes long is asked for less often: at least three times, and for half a minute at most.
"""

import json
import os
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, NamedTuple

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.management.commands import start
from caseload.models import Staff
from tests import scratch
from tests.benchmarks.measuring import p95, timed
from tests.benchmarks.size.pages import EMPTY, LOCUM, Page, locum, pages
from tests.drills.load import Browser
from tests.drills.members import Member, Supervisor, answers, wait_for
from tests.signed_in import session_of

LONGEST: Final = 30.0
"""Seconds for one page."""
LEAST: Final = 3


class Cost(NamedTuple):
    """Milliseconds of a page, and how many empty pages of the same run it costs."""

    p50: float
    p95: float
    units: float


Ask = Callable[[Page], int]


def cost(ask: Ask, page: Page, turns: int) -> Cost:
    empty = Page("empty", page.of, EMPTY)
    ask(page), ask(empty)
    took: list[tuple[float, float]] = []
    limit = time.monotonic() + LONGEST
    while len(took) < turns and (time.monotonic() < limit or len(took) < LEAST):
        took.append((_milliseconds(ask, page), _milliseconds(ask, empty)))
    ours, theirs = zip(*took, strict=True)
    return Cost(statistics.median(ours), p95(ours), statistics.median(ours) / statistics.median(theirs))


def _milliseconds(ask: Ask, page: Page) -> float:
    took = timed(lambda: ask(page))
    assert took.came == 200, (page, took.came)
    return 1000 * took.wall


def in_process(cookies: dict[str, str]) -> Ask:
    clients = {of: Client(SERVER_NAME="localhost") for of in cookies}
    for of, client in clients.items():
        client.cookies["session"] = cookies[of]

    def ask(page: Page) -> int:
        client = clients[page.of]
        answer = client.post(page.path, {"text": page.typed}) if page.typed else client.get(page.path)
        return answer.status_code

    return ask


def through(port: int, cookies: dict[str, str]) -> Ask:
    browsers = {of: Browser(port) for of in cookies}
    for of, browser in browsers.items():
        browser.cookies["session"] = cookies[of]
        browser.ask("/search/")

    def ask(page: Page) -> int:
        return browsers[page.of].ask(page.path, {"text": page.typed} if page.typed else None)[0]

    return ask


@contextmanager
def served(folder: Path) -> Iterator[int]:
    """The planner's web server, by the command of `start`, on a port of the loopback address."""
    if not settings.STATIC_ROOT.exists():
        call_command("collectstatic", interactive=False, verbosity=0)
    port = scratch.free_port()
    with Supervisor() as keeper:
        keeper.add(Member("web", start.web(port, False), folder, os.environ))
        wait_for(lambda: answers(port), "the web server answers")
        yield port


def queries(ask: Ask, page: Page) -> tuple[int, float, str]:
    """How many it takes; the milliseconds of the slowest and its text."""
    with CaptureQueriesContext(connection) as asked:
        ask(page)
    slowest = max(asked.captured_queries, key=lambda each: float(each["time"]))
    return len(asked), 1000 * float(slowest["time"]), slowest["sql"]


def sessions(people: set[str]) -> dict[str, str]:
    return {of: session_of(locum() if of == LOCUM else Staff.objects.get(username=of)) for of in people}


def main(size: str, turns: str, into: str) -> None:
    folder = Path(settings.DATA_FOLDER)
    wanted = list(pages())
    cookies, found = sessions({page.of for page in wanted}), []
    with served(folder) as port:
        inside, outside = in_process(cookies), through(port, cookies)
        for page in wanted:
            many, slowest, sql = queries(inside, page)
            here, there = cost(inside, page, int(turns)), cost(outside, page, int(turns))
            found.append({"database": connection.vendor, "size": int(size), **page._asdict(), "many": many,
                          "here": here, "there": there, "slowest": slowest, "sql": sql})  # fmt: skip
            print(
                f"{page.of:8} {page.name:28} {many:3} queries {here.p50:8.1f} ms {here.units:6.1f} u, served "
                f"{there.p50:8.1f} / {there.p95:.1f} ms {there.units:6.1f} u, slowest {slowest:.0f} ms",
                flush=True,
            )
            Path(into).write_text(json.dumps(found, indent=1))
