"""One line in the log for each request that was answered: the name of its route, its status, and how long it took."""

import logging
import secrets
import time
from collections.abc import Callable
from http import HTTPMethod

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from structlog import contextvars

PROBES = frozenset({"/livez", "/readyz", "/metrics"})
log = logging.getLogger("caseload.requests")

Answer = Callable[[HttpRequest], HttpResponse]


def route_of(request: HttpRequest) -> str:
    """The name of the route, such as `episode`; one word for all addresses that have none."""
    match = request.resolver_match
    return str(match.view_name) if match and match.view_name else "unknown"


def method_of(request: HttpRequest) -> str:
    """One of the known methods: a client may send any word for one."""
    method = request.method or ""
    return method if method in HTTPMethod.__members__ else "OTHER"


def request_line(answer: Answer) -> Answer:
    """Middleware: give each request a name of its own, told to the client in X-Request-ID and in every line about it.

    A client's own X-Request-ID is not taken: it could say anything, and the same thing twice.
    """

    def answer_and_tell(request: HttpRequest) -> HttpResponse:
        began, name = time.perf_counter(), secrets.token_hex(4)
        with contextvars.bound_contextvars(request=name):
            response = answer(request)
            response.headers["X-Request-ID"] = name
            if request.path not in PROBES and not request.path.startswith(settings.STATIC_URL):
                ms = round((time.perf_counter() - began) * 1000)
                told = {"route": route_of(request), "method": method_of(request), "status": response.status_code}
                log.info("answered", extra={**told, "ms": ms})
        return response

    return answer_and_tell
