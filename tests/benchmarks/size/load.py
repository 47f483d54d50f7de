"""Twenty people at work for some minutes through gunicorn: what each page took, and what went wrong.

Each has a part as in a clinic (therapist, admin, lead), opens the pages of that part one after another, thinks for a
moment over each, and now and then logs a call; an admin books the first place offered to whoever is open on the booking
list. A page that is not answered with 200 or 302 is an error; a place that somebody else was quicker to take (409, with
other places) is none, and is counted by itself.
"""

import json
import random
import statistics
import threading
import time
from collections import defaultdict
from http.client import HTTPException
from pathlib import Path
from typing import Any, Final
from uuid import uuid4

from django.conf import settings
from django.db import connection

from caseload.models import Episode, Staff
from tests.benchmarks.measuring import p95
from tests.benchmarks.size.asking import served
from tests.benchmarks.size.pages import busy_day
from tests.benchmarks.size.typed import form_of
from tests.drills.load import Browser
from tests.signed_in import session_of

PARTS: Final = {
    "hanneke": ("/today/", "/overdue/", "/caseload/", "{episode}", "{patient}", "{call}", "{search}"),
    "maureen": ("/to-book/", "/overdue/", "/diary/?on={day}", "{patient}", "{call}", "{booking}", "{search}",
                "/notices/"),
    "imogen": ("/overdue/?per=50", "/caseload/", "/diary/?on={day}", "{episode}", "/trail/", "{search}"),
}  # fmt: skip
SHARES: Final = ("hanneke",) * 11 + ("maureen",) * 6 + ("imogen",) * 3
"""Twenty people: more therapists than admins, and few leads."""
THINKING: Final = (2.0, 8.0)
"""Seconds over a page, as drawn for each."""
CASES: Final = 200
LATE: Final = 409
ASKED: Final = {"told": "told", "birth_date_confirmed": "on", "interpreter_told": "on"}
"""What an admin asks on the telephone before a booking."""


class Person(threading.Thread):
    """`took` has (page, seconds, status) of all that they opened; status 0 where no answer came."""

    def __init__(self, number: int, of: str, port: int, session: str, cases: list[tuple[str, str, str]]) -> None:
        super().__init__(daemon=True)
        self.chance, self.of, self.cases = random.Random(number), of, cases
        self.browser, self.took = Browser(port), list[tuple[str, float, int]]()
        self.browser.cookies["session"] = session
        self.over = threading.Event()
        self.day = busy_day()

    def run(self) -> None:
        self.browser.ask("/search/")
        while not self.over.wait(self.chance.uniform(*THINKING)):
            page = self.chance.choice(PARTS[self.of])
            began = time.monotonic()
            try:
                status = self._open(page)
            except (OSError, HTTPException):
                status = 0
            name = page.split("?")[0] if page.startswith("/") else page.strip("{}")
            self.took.append((name, time.monotonic() - began, status))

    def _open(self, page: str) -> int:
        episode, patient, family = self.chance.choice(self.cases)
        if page == "{call}":
            said = {"key": str(uuid4()), "how": "phone", "reached": "no-answer", "text": ""}
            return self.browser.ask(f"/episodes/{episode}/contacts/new/", said)[0]
        if page == "{search}":
            return self.browser.ask("/search/", {"text": family})[0]
        if page == "{booking}":
            return self._book()
        named = {"{episode}": f"/episodes/{episode}/", "{patient}": f"/patients/{patient}/"}
        return self.browser.ask(named.get(page) or page.format(day=self.day))[0]

    def _book(self) -> int:
        """The page is asked for, too; where it has nobody to book it is all there is."""
        status, text, _ = self.browser.ask("/to-book/")
        path, fields = form_of(text, "data-visit")
        return self.browser.ask(path, fields | ASKED)[0] if fields.get("slot") else status


def cases_of(of: str) -> list[tuple[str, str, str]]:
    """Open episodes that they reach: codes of episode and patient, and the family name."""
    found = Episode.objects.open().order_by("-id")
    if of == "hanneke":
        found = found.filter(therapist__username=of)
    return list(found.values_list("code", "patient__code", "patient__family")[:CASES])


def told(size: str, people: list[Person]) -> list[dict[str, Any]]:
    by_page: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for person in people:
        for page, seconds, status in person.took:
            by_page[page].append((1000 * seconds, status))
            by_page["all"].append((1000 * seconds, status))
    return [_row(size, page, took) for page, took in sorted(by_page.items())]


def _row(size: str, page: str, took: list[tuple[float, int]]) -> dict[str, Any]:
    times = [each for each, _ in took]
    wrong = [status for _, status in took if status not in (200, 302, LATE)]
    late = sum(status == LATE for _, status in took)
    return {"Database": connection.vendor, "Open": f"{int(size):,}", "Page": page, "Opened": len(took),
            "p50 ms": round(statistics.median(times)), "p95 ms": round(p95(times)), "Longest ms": round(max(times)),
            "Too late": late, "Errors": len(wrong), "Which": ", ".join(map(str, sorted(set(wrong))))}  # fmt: skip


def main(size: str, minutes: str, into: str) -> None:
    cases = {of: cases_of(of) for of in PARTS}
    with served(Path(settings.DATA_FOLDER)) as port:
        sessions = [session_of(Staff.objects.get(username=of)) for of in SHARES]
        people = [Person(number, of, port, sessions[number], cases[of]) for number, of in enumerate(SHARES)]
        for person in people:
            person.start()
        time.sleep(60 * float(minutes))
        for person in people:
            person.over.set()
        for person in people:
            person.join(60)
    Path(into).write_text(json.dumps(told(size, people), indent=1))
