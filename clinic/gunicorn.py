"""How gunicorn serves the pages: `gunicorn --config python:clinic.gunicorn clinic.wsgi`, with --bind as you like.

Two processes of four threads each: a thread that waits for the database holds up no other. The processes share what
they count through files, which begin empty at each start.
"""

import os
import shutil
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
os.environ.setdefault("CASELOAD_DATABASE_POOL", "true")  # as in clinic.wsgi: the processes inherit the settings

from django.conf import settings  # noqa: E402  after what it reads

if settings.METRICS_TOKEN:
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(settings.METRICS_FOLDER)

wsgi_app = "clinic.wsgi"
bind = f"127.0.0.1:{settings.PORT}"
worker_class = "gthread"
workers = 2
threads = 4
timeout = 60  # seconds; a page that takes longer has hung
graceful_timeout = 8  # seconds; below the grace of `start`
loglevel = "warning"
logconfig_dict = settings.LOGGING
control_socket_disable = True


def on_starting(server: Any) -> None:
    """Whatever was counted before this start is counted no more."""
    if settings.METRICS_TOKEN:
        shutil.rmtree(settings.METRICS_FOLDER, ignore_errors=True)
        settings.METRICS_FOLDER.mkdir(mode=0o700)
