"""The background process: it keeps at its work, breathes between rows, and outlives the failures of a database."""

import logging
import threading
from collections.abc import Callable

import pytest
from django.db import OperationalError

from caseload.management.commands import background
from caseload.outreach.post import Came


class Clock(threading.Event):
    """A stop that never really waits, writes down how long it was asked to, and comes after `turns`."""

    def __init__(self, turns: int) -> None:
        super().__init__()
        self.turns = turns
        self.pauses: list[float] = []

    def wait(self, timeout: float | None = None) -> bool:
        self.pauses.append(timeout or 0)
        if len(self.pauses) == self.turns:
            self.set()
        return self.is_set()


def pauses_of(outcomes: list[int | Exception]) -> list[float]:
    clock, left = Clock(len(outcomes)), iter(outcomes)
    background.keep_at("jobs", turn(left), clock)
    return clock.pauses


def turn(left) -> Callable[[], int]:
    def do() -> int:
        outcome = next(left)
        if isinstance(outcome, Exception):
            raise outcome
        return outcome

    return do


@pytest.fixture(autouse=True)
def pulses(monkeypatch) -> list[str]:
    """The loop tidies the connections of its own thread; here it runs in the test's, which needs its own, and is given
    no database to write its pulse into."""
    found: list[str] = []
    monkeypatch.setattr(background, "close_old_connections", lambda: None)
    monkeypatch.setattr(background.connections, "close_all", lambda: None)
    monkeypatch.setattr(background, "pulse", lambda name, now: found.append(name))
    return found


def test_after_a_row_it_looks_again_almost_at_once_and_otherwise_in_half_a_second():
    assert pauses_of([1, 0, 3]) == [0.02, 0.5, 0.02]


def test_each_turn_shows_that_it_is_alive(pulses):
    pauses_of([1, 0, ValueError()])
    assert pulses == ["background jobs"] * 3


def test_while_the_mail_server_is_away_it_is_left_in_peace_for_half_a_second(monkeypatch):
    monkeypatch.setattr(background, "send_due", lambda limit: [Came.UNREACHABLE])
    assert background.send_one() == 0
    monkeypatch.setattr(background, "send_due", lambda limit: [Came.REFUSED])
    assert background.send_one() == 1


def test_a_failing_database_is_asked_less_and_less_often_and_then_as_before():
    gone = OperationalError("server closed the connection")
    assert pauses_of([gone, gone, gone, 0, gone]) == [1.0, 2.0, 4.0, 0.5, 1.0]


def test_it_never_waits_longer_than_half_a_minute():
    assert max(pauses_of([OperationalError()] * 12)) == 30.0


def test_a_failure_is_a_line_in_the_log(caplog):
    with caplog.at_level(logging.ERROR):
        pauses_of([ValueError("a row that cannot be read")])
    assert "The jobs failed; trying again in 1.0 s" in caplog.text
    assert "a row that cannot be read" in caplog.text
