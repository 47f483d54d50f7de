"""Celery over Redis, for installations with REDIS_URL. The rows are the truth; a message only wakes a worker.

The web never publishes, so a request never waits for Redis: a sweep, itself a task, sends the ids of due rows. Three
queues, each with a worker of its own: the clock, so that nothing holds up the schedule; notices; and long jobs.
No queue grows while its worker is slow or gone: a sweep fills one only when it is nearly empty, and beat holds back
what it would send while as much as a few seconds' worth waits.
"""

import logging
import os
from logging.config import dictConfig
from typing import Any

from celery import Celery
from celery.beat import ScheduleEntry, Scheduler
from celery.signals import setup_logging
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from kombu.transport import redis, virtual

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")

if not settings.REDIS_URL:
    raise ImproperlyConfigured("Celery needs REDIS_URL. Without it, `python manage.py background` does the same work.")

HELD_BACK_AT = 10
"""So many ticks and sweeps wait for a worker at most."""

log = logging.getLogger("caseload.schedule")


class Clinic(Celery):
    def waiting(self, queue: str) -> int:
        """How many messages wait in a queue. Raises what kombu raises if Redis does not answer."""
        with self.connection_or_acquire() as connection:
            return int(connection.default_channel.queue_declare(queue=queue).message_count)


class Sparing(Scheduler):
    """Beat without a file: what is due when is in our tables. It says once that Redis is away, not twice a second."""

    away = False

    def apply_entry(self, entry: ScheduleEntry, producer: Any = None) -> None:
        try:
            if self.app.waiting("clock") < HELD_BACK_AT:
                self.apply_async(entry, producer=producer, advance=False)
        except Exception:
            if not self.away:
                log.warning("Redis does not answer. The rows keep what is to be done.", exc_info=True)
            self.away = True
        else:
            if self.away:
                log.warning("Redis answers again.")
            self.away = False


class Forgetful(redis.QoS):
    """A worker takes its next message when it has told Redis of the last one. If Redis hangs just then, it would count
    that one as in hand for as long as the connection lasts, and take no other. The row is the truth: it lets go."""

    def ack(self, delivery_tag: str) -> None:
        try:
            super().ack(delivery_tag)
        except Exception:
            virtual.QoS.ack(self, delivery_tag)
            raise


redis.Channel.QoS = Forgetful


@setup_logging.connect
def as_everywhere(**_: Any) -> None:
    """The lines of a worker look like those of a page."""
    dictConfig(settings.LOGGING)


app = Clinic("clinic", broker=settings.REDIS_URL)
app.conf.update(
    task_serializer="json",
    accept_content=["json"],
    timezone="UTC",
    task_ignore_result=True,
    task_acks_late=False,  # a lost message is sent again by the sweep, from the row
    task_publish_retry=False,
    worker_prefetch_multiplier=1,
    task_time_limit=3600,
    task_default_queue="clock",
    task_routes={
        "caseload.tasks.run_job": {"queue": "jobs"},
        "caseload.tasks.send_notice": {"queue": "notices"},
    },
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    broker_transport_options={
        "socket_timeout": 1,
        "socket_connect_timeout": 0.5,
        "socket_keepalive": True,
        "health_check_interval": 10,
        "retry_on_timeout": False,
        "max_retries": 0,
        "visibility_timeout": 60,
        "unacked_restore_interval": 1,
        "unacked_restore_throttle": 1,
    },
    beat_scheduler="clinic.celery:Sparing",
    beat_schedule={
        # A sweep or tick that could not be delivered in time is worthless: the next one does its work.
        "sweep": {"task": "caseload.tasks.sweep", "schedule": 1.0, "options": {"expires": 2}},
        "tick": {"task": "caseload.tasks.tick", "schedule": 1.0, "options": {"expires": 2}},
    },
)
app.autodiscover_tasks()
