"""Whether this process answers, and whether it can do its work. For those who probe: no session, no person, no host.

`/livez`: the process answers. `/readyz`: the database answers within two seconds and has the tables of this program;
otherwise 503 with the reason. Redis is not asked: no page needs it.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Final

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection, connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse

from caseload.web.views import metrics

LIMIT_SECONDS: Final = 2.0
NO_ANSWER: Final = "the database does not answer"
NOT_MIGRATED: Final = "the database does not have the tables of this program: manage.py migrate"

Answer = Callable[[HttpRequest], HttpResponse]

# One thread of its own: a database that hangs takes none of those that serve pages, however often somebody probes.
asking = ThreadPoolExecutor(1, "readyz")


@login_not_required
def livez(request: HttpRequest) -> HttpResponse:
    return said("alive")


@login_not_required
def readyz(request: HttpRequest) -> HttpResponse:
    fault = fault_in_time()
    return said(fault, 503) if fault else said("ready")


def said(word: str, status: int = 200) -> HttpResponse:
    return HttpResponse(f"{word}\n", status=status, content_type="text/plain; charset=utf-8")


def answer_probes(answer: Answer) -> Answer:
    """Middleware: those who probe come by an address that no setting names, and want no more than a word."""
    probes = {"/livez": livez, "/readyz": readyz, "/metrics": metrics.show}

    def answer_or_hand_on(request: HttpRequest) -> HttpResponse:
        return probes.get(request.path, answer)(request)

    return answer_or_hand_on


def fault_in_time() -> str:
    """What is wrong with the database, in words; nothing if all is well."""
    asked = asking.submit(fault)
    try:
        return asked.result(LIMIT_SECONDS)
    except TimeoutError:
        asked.cancel()
        return NO_ANSWER


def fault() -> str:
    try:
        applied = MigrationRecorder(connection).applied_migrations()
    except DatabaseError:
        return NO_ANSWER
    finally:
        connections.close_all()
    return "" if wanted() <= applied.keys() else NOT_MIGRATED


@cache
def wanted() -> frozenset[tuple[str, str]]:
    """Every migration of this program, as application and name."""
    return frozenset(MigrationLoader(None).disk_migrations)
