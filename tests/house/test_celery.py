"""What goes to the broker: ids only, to the queue of their kind, and never more than the workers can use."""

import importlib
import sys
from types import SimpleNamespace

import pytest
from celery import _state
from celery.exceptions import OperationalError
from django.core.exceptions import ImproperlyConfigured

from caseload import tasks


class Queues:
    """Stands for the broker: how much waits where, and what was sent."""

    def __init__(self, **waiting: int) -> None:
        self.lengths = waiting
        self.sent: list[int] = []

    def waiting(self, queue: str) -> int:
        return self.lengths[queue]

    def delay(self, pk: int) -> None:
        self.sent.append(pk)


@pytest.fixture
def queues(monkeypatch):
    def with_waiting(**waiting: int) -> Queues:
        found = Queues(**waiting)
        monkeypatch.setattr(tasks, "current_app", found)
        return found

    return with_waiting


@pytest.mark.parametrize(("waiting", "sent"), [(0, 100), (tasks.NEARLY_EMPTY - 1, 100), (tasks.NEARLY_EMPTY, 0)])
def test_a_queue_is_filled_when_nearly_empty_and_left_alone_otherwise(queues, waiting, sent):
    found = queues(jobs=waiting)
    assert tasks.fill("jobs", found, lambda limit: list(range(10_000))[:limit]) == sent
    assert found.sent == list(range(sent))


def test_a_thousand_sweeps_past_a_worker_that_is_gone_send_no_more_than_one(queues):
    found = queues(jobs=0)
    for _ in range(1000):
        found.lengths["jobs"] = len(found.sent)
        tasks.fill("jobs", found, lambda limit: list(range(limit)))
    assert len(found.sent) == tasks.FULL


@pytest.fixture
def wiring(settings, monkeypatch):
    """The wiring as with Redis, without one: nothing here talks to it. The app in use before is put back."""
    before = _state.default_app, _state._tls.current_app
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    monkeypatch.delitem(sys.modules, "clinic.celery", raising=False)
    yield importlib.import_module("clinic.celery")
    _state.default_app, _state._tls.current_app = before
    sys.modules.pop("clinic.celery", None)


def test_each_kind_of_work_has_its_queue_and_the_rest_is_the_clock(wiring):
    route = wiring.app.amqp.router.route
    routed = {"run_job": "jobs", "send_notice": "notices", "sweep": "clock", "tick": "clock"}
    assert {name: route({}, f"caseload.tasks.{name}")["queue"].name for name in routed} == routed


def test_a_message_that_a_hung_redis_was_not_told_of_does_not_keep_a_worker_from_the_next(wiring, monkeypatch):
    def hung(*_):
        raise TimeoutError

    monkeypatch.setattr(wiring.Forgetful, "_remove_from_indices", hung)
    inhand = wiring.redis.Channel.QoS(SimpleNamespace(do_restore=False), prefetch_count=1)
    wiring.virtual.QoS.append(inhand, "message", "tag")
    assert not inhand.can_consume()
    with pytest.raises(TimeoutError):
        inhand.ack("tag")
    assert inhand.can_consume()


class Beat:
    def __init__(self, wiring, *waiting: int | Exception) -> None:
        self.left, self.sent = list(waiting), 0
        self.app = self
        self.apply_entry = wiring.Sparing.apply_entry.__get__(self)
        self.away = False

    def waiting(self, queue: str) -> int:
        found = self.left.pop(0)
        if isinstance(found, Exception):
            raise found
        return found

    def apply_async(self, entry, **_) -> None:
        self.sent += 1


def test_beat_holds_back_while_what_it_sent_waits(wiring):
    beat = Beat(wiring, 0, wiring.HELD_BACK_AT - 1, wiring.HELD_BACK_AT, 5000, 0)
    for _ in range(5):
        beat.apply_entry(None)
    assert beat.sent == 3


def test_beat_outlives_redis_and_says_so_once(wiring, caplog):
    beat = Beat(wiring, OperationalError("refused"), OperationalError("refused"), 0, 0)
    for _ in range(4):
        beat.apply_entry(None)
    assert beat.sent == 2
    assert [record.getMessage()[:20] for record in caplog.records] == [
        "Redis does not answer"[:20],
        "Redis answers again.",
    ]


def test_the_schedule_is_plain_universal_time_in_seconds(wiring):
    assert wiring.app.conf.timezone == "UTC" and wiring.app.conf.enable_utc
    assert {entry["schedule"] for entry in wiring.app.conf.beat_schedule.values()} == {1.0}


def test_without_an_address_of_redis_there_is_no_celery(settings):
    settings.REDIS_URL = ""
    sys.modules.pop("clinic.celery", None)
    with pytest.raises(ImproperlyConfigured, match="manage.py background"):
        importlib.import_module("clinic.celery")
