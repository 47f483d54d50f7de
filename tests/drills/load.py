"""People at work: some write, as a browser would send it, and send again what was not answered; others look at pages.

What a desk was told is saved is an acknowledged write. It is looked for in the database afterwards (`counting`).
"""

import random
import re
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from http.client import HTTPConnection, HTTPException
from http.cookies import SimpleCookie
from urllib.parse import urlencode
from uuid import uuid4

from tests.drills.ground import PASSWORD, Case, Desk

FORM = "application/x-www-form-urlencoded"
ANSWER_SECONDS = 30
SIGN_IN_SECONDS = 120
AGAIN_SECONDS = 0.4
THINKING = {"writer": 0.15, "reader": 0.08}
UNHEARD_OF = 0.1
"""So many writers do not wait for the answer to their first sending."""
PAGES = ("/to-book/", "/overdue/", "/notices/", "/diary/", "/episodes/{episode}/")
BETWEEN = "between"
"""The phase of what began in one and ended in another."""
HONEST = "it may not have been saved"
OUTCOME = re.compile(r"/appointments/(\w+)/outcome/")
TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="(\w+)"')


@dataclass
class Write:
    """`said` is what can be found again: the text of a contact, or what was booked or cancelled."""

    kind: str
    phase: str
    path: str
    fields: dict[str, str]
    said: str
    acknowledged_at: float = 0
    answers: list[tuple[str, int]] = field(default_factory=list)
    refused: str = ""

    @property
    def key(self) -> str:
        return self.fields["key"]


@dataclass
class Read:
    phase: str
    page: str
    status: int
    seconds: float


class Browser:
    """Cookies and one connection for each question. `ask` raises OSError or HTTPException where no answer comes."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.cookies: dict[str, str] = {}

    def ask(self, path: str, fields: dict[str, str] | None = None, *, listen: bool = True) -> tuple[int, str, str]:
        """Status, text, and where it leads; without `listen` the connection is cut as soon as the form is sent."""
        asking = HTTPConnection("127.0.0.1", self.port, timeout=ANSWER_SECONDS)
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        try:
            if fields is None:
                asking.request("GET", path, headers=headers)
            else:
                sent = {"csrfmiddlewaretoken": self.cookies.get("csrf", "")} | fields
                asking.request("POST", path, urlencode(sent), headers | {"Content-Type": FORM})
            if not listen:
                return 0, "", ""
            response = asking.getresponse()
            text = response.read().decode()
            for each in response.headers.get_all("Set-Cookie", []):
                self.cookies |= {name: morsel.value for name, morsel in SimpleCookie(each).items()}
            return response.status, text, response.headers.get("Location", "")
        finally:
            asking.close()

    def sign_in(self, username: str) -> None:
        _, text, _ = self.ask("/sign-in/")
        found = TOKEN.search(text)
        said = {"username": username, "password": PASSWORD, "csrfmiddlewaretoken": found[1] if found else ""}
        status, text, _ = self.ask("/sign-in/", said)
        assert status == 302, (status, text[-2000:])


class Load:
    """Everybody at work, and what they saw. `phase` is what is being done to the planner just now; people think `pace`
    times as long."""

    def __init__(self, port: int, desks: list[Desk], pace: float, readers: int = 2) -> None:
        self.port, self.pace, self.phase = port, pace, "as usual"
        self.stopping, self.going_home, self.resting = threading.Event(), threading.Event(), threading.Event()
        self.writes: list[Write] = []
        self.reads: list[Read] = []
        self.dishonest: list[str] = []
        self.crashed: list[str] = []
        self.there = threading.Barrier(len(desks) + readers + 1)
        work = [partial(self._write_at, desk) for desk in desks]
        work += [partial(self._read_at, desk) for desk in desks[:readers]]
        self.threads = [threading.Thread(target=self._keep, args=(each,), daemon=True) for each in work]

    def __enter__(self) -> "Load":
        """Everybody signs in; the work begins when all have."""
        for thread in self.threads:
            thread.start()
        self.there.wait(SIGN_IN_SECONDS)
        return self

    def __exit__(self, *_: object) -> None:
        self.finish(0)

    def finish(self, seconds: float) -> None:
        """No new work; what was not answered is sent until it is, for so long at most."""
        self.stopping.set()
        limit = time.monotonic() + seconds
        for thread in self.threads:
            thread.join(max(0.1, limit - time.monotonic()))
        self.going_home.set()

    def acknowledged(self) -> int:
        return sum(1 for write in self.writes if write.acknowledged_at)

    def pending(self) -> list[Write]:
        return [write for write in self.writes if not write.acknowledged_at and not write.refused]

    def _keep(self, work: Callable[[], None]) -> None:
        try:
            work()
        except Exception as error:
            self.crashed.append(repr(error)[:500])

    def _read_at(self, desk: Desk) -> None:
        browser, chance = Browser(self.port), random.Random(desk.username + " reads")
        browser.sign_in(desk.username)
        self.there.wait(SIGN_IN_SECONDS)
        while not self._over("reader"):
            self._look(browser, chance.choice(PAGES).format(episode=chance.choice(desk.cases).episode))

    def _over(self, who: str) -> bool:
        """Whether the day is over, after a moment of thinking, or a rest."""
        over = self.stopping.wait(THINKING[who] * self.pace)
        while self.resting.is_set() and not over:
            over = self.stopping.wait(0.05)
        return over

    def _look(self, browser: Browser, path: str) -> str:
        phase, began = self.phase, time.monotonic()
        try:
            status, text, _ = browser.ask(path)
        except (OSError, HTTPException):
            status, text = 0, ""
        phase = phase if phase == self.phase else BETWEEN
        self.reads.append(Read(phase, path.split("/")[1], status, time.monotonic() - began))
        return text

    def _write_at(self, desk: Desk) -> None:
        browser, chance = Browser(self.port), random.Random(desk.username + " writes")
        browser.sign_in(desk.username)
        self.there.wait(SIGN_IN_SECONDS)
        booked: dict[str, str] = {}
        free = list(desk.places)
        while not self._over("writer"):
            case = chance.choice(desk.cases)
            if chance.random() < 0.4:
                self._send(browser, self._call(case), chance)
            elif case.episode not in booked:
                place = free.pop(chance.randrange(len(free)))
                if self._send(browser, self._book(case, place), chance):
                    booked[case.episode] = place
            elif (code := self._code_of(browser, case)) and self._send(browser, self._cancel(case, code), chance):
                free.append(booked.pop(case.episode))

    def _code_of(self, browser: Browser, case: Case) -> str:
        found = OUTCOME.search(self._look(browser, f"/episodes/{case.episode}/"))
        return found[1] if found else ""

    def _call(self, case: Case) -> Write:
        said = f"rang {uuid4()}"
        fields = {"key": str(uuid4()), "how": "phone", "reached": "spoke", "text": said}
        return self._new("call", f"/episodes/{case.episode}/contacts/new/", fields, said)

    def _book(self, case: Case, place: str) -> Write:
        fields = {"key": str(uuid4()), "slot": place, "way": "in-person", "told": "untold",
                  "follow_ups": case.follow_up}  # fmt: skip
        return self._new("book", f"/episodes/{case.episode}/appointments/new/", fields, place)

    def _cancel(self, case: Case, code: str) -> Write:
        fields = {"key": str(uuid4()), "outcome": "cancelled-by-patient", "why": "drill", "told": "untold"}
        return self._new("cancel", f"/appointments/{code}/outcome/", fields, code)

    def _new(self, kind: str, path: str, fields: dict[str, str], said: str) -> Write:
        write = Write(kind, self.phase, path, fields, said)
        self.writes.append(write)
        return write

    def _send(self, browser: Browser, write: Write, chance: random.Random) -> bool:
        """Send a form, with the same key again and again, until it is answered; whether it was saved."""
        listen = chance.random() >= UNHEARD_OF
        while not self.going_home.is_set():
            try:
                status, text, to = browser.ask(write.path, write.fields, listen=listen)
                if not listen:
                    listen = True
                    continue
            except (OSError, HTTPException):
                status, text, to = 0, "", ""
            write.answers.append((self.phase, status))
            if status == 302 and "sign-in/" not in to:
                write.acknowledged_at = time.monotonic()
                return True
            if status in (200, 302, 400, 403, 404, 409, 422):
                write.refused = f"{status} {to} " + " ".join(re.sub(r"<[^>]*>", " ", text).split())[-600:]
                return False
            if status and (status != 503 or HONEST not in text):
                self.dishonest.append(f"{self.phase}: {write.kind} answered {status}")
            self.going_home.wait(AGAIN_SECONDS)
        return False
