"""Celery over Redis, for installations with REDIS_URL. The rows are the truth; a message only wakes a worker.

The web never publishes, so a request never waits for Redis: a sweep, itself a task, sends the ids of due rows.
"""

import os

from celery import Celery
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")

if not settings.REDIS_URL:
    raise ImproperlyConfigured("Celery needs REDIS_URL. Without it, `python manage.py background` does the same work.")

app = Celery("clinic", broker=settings.REDIS_URL)
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
    task_routes={"caseload.tasks.run_job": {"queue": "jobs"}},
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
    beat_schedule={
        # A sweep or tick that could not be delivered in time is worthless: the next one does its work.
        "sweep": {"task": "caseload.tasks.sweep", "schedule": 1.0, "options": {"expires": 2}},
        "tick": {"task": "caseload.tasks.tick", "schedule": 1.0, "options": {"expires": 2}},
    },
    worker_hijack_root_logger=False,
)
app.autodiscover_tasks()
