"""Run the whole planner in one command: web pages, background work and the schedule."""

import os
import socket
import sys
from http.client import HTTPConnection, HTTPException
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from caseload.actions.wiping import real_rows
from caseload.management.children import Children
from caseload.management.commands.demo import sign_ins
from caseload.reads.names import holds_demo

READY_SECONDS = 60


class Command(BaseCommand):
    help = (
        "Run the planner: web pages and background work in one command, until Ctrl-C. "
        "The first start loads the demo. Example: python manage.py start --port 8001"
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, default=settings.PORT, help="port on 127.0.0.1 (default: %(default)s)")
        parser.add_argument("--dev", action="store_true", help="debug pages; the pages follow changes of the code")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *args: Any, port: int, dev: bool, no_demo: bool, **options: Any) -> None:
        if taken(port):
            raise CommandError(f"Port {port} is taken by another program. Choose another: --port {port + 1}")
        try:
            self.prepare(demo=not no_demo)
        except KeyboardInterrupt as stopped:
            raise CommandError("Stopped before everything was ready.") from stopped
        self.run(port, dev)

    def say(self, sentence: str) -> None:
        """At once, also into a file or a pipe: whoever waits for the address reads it there."""
        self.stdout.write(sentence)
        self.stdout.flush()

    def prepare(self, demo: bool) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        if holds_demo():
            self.say(f"The demo is in this database. {sign_ins()}")
        elif demo and not settings.HTTPS and not real_rows():
            self.say("First start: loading the demo.")
            call_command("demo", stdout=self.stdout)
            self.stdout.flush()
        elif not get_user_model()._default_manager.exists():
            self.say("Nobody can sign in yet: python manage.py add_person adds the first person.")

    def run(self, port: int, dev: bool) -> None:
        children, handed = Children(), environment(dev)
        try:
            children.start("The web server", web(port, dev), settings.BASE_DIR, handed)
            for name, command in background().items():
                children.start(name, command, settings.BASE_DIR, handed, again=bool(settings.REDIS_URL))
            if children.wait_until(lambda: answers(port), READY_SECONDS):
                self.say(f"The planner is on http://127.0.0.1:{port}/ (Ctrl-C stops it).")
                children.wait_until(lambda: False)
            ended = children.ended()
        finally:
            children.stop()
        if not children.stopping.is_set():
            raise CommandError(f"{' and '.join(ended) or 'The web server'} did not keep running: all was stopped.")
        self.say("Stopped.")


def environment(dev: bool) -> dict[str, str]:
    """What the children are given: this environment. E-mail of a demo goes into a folder unless it says otherwise."""
    demo = {"CASELOAD_MAIL_URL": "folder:"} if holds_demo() else {}
    return demo | os.environ | ({"CASELOAD_DEBUG": "true"} if dev else {})


def web(port: int, dev: bool) -> list[str]:
    where = ["--config", "python:clinic.gunicorn", "--bind", f"127.0.0.1:{port}"]
    return [sys.executable, "-m", "gunicorn", *where, *(["--reload"] if dev else [])]


def background() -> dict[str, list[str]]:
    """One process without a broker. With Redis a worker for each queue, so that neither a slow mail server nor a long
    job holds up the rest, and the schedule. A worker may end when Redis is started anew: `start` starts it again.
    """
    if not settings.REDIS_URL:
        return {"The background work": [sys.executable, "manage.py", "background"]}
    celery = [sys.executable, "-m", "celery", "--app", "clinic", "--quiet"]
    return {
        "The worker for the clock": [*celery, *worker("clock")],
        "The worker for notices": [*celery, *worker("notices")],
        "The worker for long jobs": [*celery, *worker("jobs")],
        "The schedule": [*celery, "beat", "--pidfile=", "--loglevel", "warning"],
    }


def worker(queue: str) -> list[str]:
    return ["worker", "--queues", queue, "--concurrency", "1", "--hostname", f"{queue}@%h", "--loglevel", "warning"]


def taken(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def answers(port: int) -> bool:
    """Whether a page comes back: the server listens some time before it has loaded what it serves."""
    asking = HTTPConnection("127.0.0.1", port, timeout=2)
    try:
        asking.request("GET", "/livez")
        return asking.getresponse().status == 200
    except (OSError, HTTPException):
        return False
    finally:
        asking.close()
