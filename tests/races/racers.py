"""Sixteen client processes that send at the same moment: each connects, waits for the others, and only then speaks."""

import re
import time
from dataclasses import dataclass
from http.client import HTTPConnection
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Barrier
from typing import Any
from urllib.parse import urlencode

RACERS = 16
WAIT_SECONDS = 60
FORM = "application/x-www-form-urlencoded"
TAGS = re.compile(r"<[^>]*>")


@dataclass(frozen=True)
class Sent:
    """One form on its way: where to, with what, and whose session it is."""

    path: str
    fields: dict[str, Any]
    cookie: str


@dataclass(frozen=True)
class Answer:
    status: int
    text: str
    seconds: float

    @property
    def won(self) -> bool:
        return self.status == 302


class Field:
    """The racers, used as a context: they end with it."""

    def __init__(self, port: int) -> None:
        fork = get_context("fork")
        barrier = fork.Barrier(RACERS)
        self.port = port
        self.pipes, self.racers = [], []
        for _ in range(RACERS):
            ours, theirs = fork.Pipe()
            racer = fork.Process(target=race, args=(theirs, port, barrier), daemon=True)
            racer.start()
            self.pipes.append(ours)
            self.racers.append(racer)

    def __enter__(self) -> "Field":
        return self

    def __exit__(self, *_: object) -> None:
        for pipe in self.pipes:
            pipe.send(None)
        for racer in self.racers:
            racer.join(5)

    def run(self, sent: list[Sent]) -> list[Answer]:
        """All answers to as many forms as there are racers, in their order."""
        for pipe, one in zip(self.pipes, sent, strict=True):
            pipe.send(one)
        return [pipe.recv() for pipe in self.pipes]


def race(pipe: Connection, port: int, barrier: Barrier) -> None:
    while (sent := pipe.recv()) is not None:
        asking = HTTPConnection("127.0.0.1", port, timeout=WAIT_SECONDS)
        asking.connect()
        barrier.wait(WAIT_SECONDS)
        pipe.send(post(asking, sent))


def post(asking: HTTPConnection, sent: Sent) -> Answer:
    began = time.monotonic()
    headers = {"Content-Type": FORM, "Cookie": sent.cookie, "Connection": "close"}
    asking.request("POST", sent.path, urlencode(sent.fields, doseq=True), headers)
    response = asking.getresponse()
    text = " ".join(TAGS.sub(" ", response.read().decode()).split())
    asking.close()
    return Answer(response.status, text, time.monotonic() - began)
