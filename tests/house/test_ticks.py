"""The schedule: once for each period however many clocks there are, by the database's clock, and nothing lost."""

import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import connection, connections
from hypothesis import given
from hypothesis import strategies as st

from caseload.actions import ticks
from caseload.actions.ticks import SCHEDULE, Rhythm, every, nightly
from caseload.models import Pulse, Tick

LONDON = ZoneInfo("Europe/London")
CLOCKS = 8
HOURLY = every(hours=1)
instants = st.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=st.just(UTC))
rhythms = st.builds(
    Rhythm, st.timedeltas(timedelta(seconds=1), timedelta(days=7)), st.timedeltas(timedelta(), timedelta(days=1))
)


@pytest.fixture
def schedule(monkeypatch) -> Callable[..., list[datetime]]:
    """A schedule of one tick, and the instants at which it ran."""
    ran: list[datetime] = []

    def only(rhythm: Rhythm = HOURLY, do: Callable[[datetime], None] = ran.append) -> list[datetime]:
        monkeypatch.setattr(ticks, "SCHEDULE", {"only": (rhythm, do)})
        return ran

    return only


@given(rhythms, instants)
def test_the_next_instant_lies_ahead_by_a_period_at_most(rhythm, at):
    assert timedelta() < rhythm.after(at) - at <= rhythm.period


@given(rhythms, instants)
def test_the_instants_of_a_rhythm_lie_a_period_apart_wherever_it_is_entered(rhythm, at):
    following = rhythm.after(at)
    assert rhythm.after(following) == following + rhythm.period == rhythm.after(rhythm.after(following) - rhythm.period)


@pytest.mark.parametrize("sunday", [datetime(2026, 3, 29), datetime(2026, 10, 25)])  # the clocks change at 01:00 UTC
@pytest.mark.parametrize("rhythm", [nightly(hour=1), nightly(hour=2)])
def test_on_the_days_on_which_clocks_change_a_nightly_tick_runs_once(sunday, rhythm):
    at, ran = (sunday - timedelta(days=1)).replace(tzinfo=LONDON).astimezone(UTC), []
    due_at = rhythm.after(at)
    while at.astimezone(LONDON).date() <= (sunday + timedelta(days=1)).date():
        if due_at <= at:
            ran.append(at)
            due_at = rhythm.after(at)
        at += timedelta(minutes=10)
    assert [instant.astimezone(LONDON).day - sunday.day for instant in ran] == [-1, 0, 1]
    assert ran[1] - ran[0] == ran[2] - ran[1] == timedelta(days=1)


def test_each_tick_runs_when_it_has_never_run_and_is_then_due_in_its_rhythm(db):
    assert ticks.run_due_ticks() == len(SCHEDULE)
    assert ticks.run_due_ticks() == 0
    (stands,) = Tick.objects.filter(name="nightly-rederive").values_list("due_at", flat=True)
    assert (stands.hour, stands.minute) == (2, 0)


def test_what_was_missed_for_nine_days_runs_once(db, schedule):
    ran = schedule()
    ticks.run_due_ticks()
    Tick.objects.update(due_at=ran[0] - timedelta(days=9))
    assert ticks.run_due_ticks() == 1
    assert ticks.run_due_ticks() == 0 and len(ran) == 2


def test_a_tick_hears_what_the_clock_of_the_database_says_and_not_that_of_its_machine(db, schedule):
    ran = schedule()
    with time_machine.travel(datetime(2031, 1, 1, tzinfo=UTC)):
        ticks.run_due_ticks()
        Tick.objects.update(due_at=ran[0] + timedelta(hours=1))
        assert ticks.run_due_ticks() == 0
    assert ran[0] < datetime(2031, 1, 1, tzinfo=UTC) and len(ran) == 1


def test_a_process_that_dies_before_the_work_is_done_has_moved_nothing(db, schedule):
    def die(now: datetime) -> None:
        raise SystemExit

    schedule(do=die)
    with pytest.raises(SystemExit):
        ticks.run_due_ticks()
    ran = schedule()
    assert ticks.run_due_ticks() == 1 and len(ran) == 1


def test_a_tick_that_fails_leaves_nothing_half_done_holds_up_no_other_and_is_tried_again(db, monkeypatch):
    ran: list[datetime] = []

    def fail(now: datetime) -> None:
        Pulse.objects.create(name="half", at=now)
        raise ValueError

    monkeypatch.setattr(ticks, "SCHEDULE", {"bad": (every(hours=6), fail), "good": (every(hours=6), ran.append)})
    assert ticks.run_due_ticks() == 1 and ran and not Pulse.objects.exists()
    assert Tick.objects.get(name="bad").due_at == ran[0] + ticks.RETRY


def test_silent_pulses_are_forgotten_after_a_day(db):
    now = datetime(2026, 4, 1, 9, tzinfo=UTC)
    Pulse.objects.create(name="jobs@old", at=now - timedelta(hours=25))
    Pulse.objects.create(name="jobs@here", at=now - timedelta(hours=23))
    ticks.forget_pulses(now)
    assert list(Pulse.objects.values_list("name", flat=True)) == ["jobs@here"]


def together(work: Callable[[], None]) -> None:
    def alone() -> None:
        try:
            work()
        finally:
            connections.close_all()

    threads = [threading.Thread(target=alone) for _ in range(CLOCKS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


@pytest.mark.django_db(transaction=True)
def test_eight_clocks_that_see_the_same_tick_run_it_once(schedule):
    ran, barrier = schedule(), threading.Barrier(CLOCKS)

    def read_together_and_run() -> None:
        for _ in range(3):
            found = ticks._read()
            barrier.wait(60)
            for name, due_at, now in found:
                ticks._run(name, due_at, now)
            if barrier.wait(60) == 0:
                Tick.objects.update(due_at=ticks.EPOCH)
            barrier.wait(60)

    ticks._read()
    connection.close()
    together(read_together_and_run)
    assert len(ran) == 3


@pytest.mark.django_db(transaction=True)
def test_eight_clocks_run_a_tick_of_a_second_once_in_each_second(schedule):
    ran, pause = schedule(Rhythm(timedelta(seconds=1))), threading.Event()

    def keep_running() -> None:
        while len(ran) < 4:
            ticks.run_due_ticks()
            pause.wait(0.02)

    ticks._read()
    connection.close()
    together(keep_running)
    seconds = [instant.replace(microsecond=0) for instant in ran]
    assert len(seconds) == len(set(seconds)) >= 4
