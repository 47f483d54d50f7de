"""Pages for what cannot be answered: calm, with what was kept and what to do, and nothing of what went wrong inside."""

import logging
import secrets
import sys
from collections.abc import Iterator
from typing import Final

from django.contrib.auth.decorators import login_not_required
from django.contrib.sessions.exceptions import SessionInterrupted
from django.core.exceptions import RequestDataTooBig, TooManyFilesSent
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from structlog.contextvars import get_contextvars

from caseload.web.drafts import sent_too_late

AGAIN_SECONDS: Final = 30
READ_ONLY: Final = "25006"
"""PostgreSQL's code for a write in a transaction that may only read."""

log = logging.getLogger("caseload.web")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    if isinstance(exception, RequestDataTooBig | TooManyFilesSent):
        return render(request, "errors/413.html", status=413)
    # A session that could not be written, after the page was made, Django takes for a sign-out in another tab.
    fault = next(filter(is_of_the_database, _behind(exception)), None)
    if isinstance(exception, SessionInterrupted) and fault:
        return _broken(request, fault)
    return render(request, "errors/400.html", status=400)


def not_allowed(request: HttpRequest, exception: Exception, message: str = "") -> HttpResponse:
    return render(request, "errors/403.html", {"message": message}, status=403)


@login_not_required
def not_sent_from_here(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form without the token of its page: an old page, another tab's sign-in, or somebody else's form."""
    return sent_too_late(request) or render(request, "errors/csrf.html", status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return render(request, "errors/404.html", status=404)


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of ours, or of the database. The page needs no database and says a reference only, under which the log
    has the rest."""
    return _broken(request, sys.exc_info()[1])


def _broken(request: HttpRequest, fault: BaseException | None) -> HttpResponse:
    reference = get_contextvars().get("request") or secrets.token_hex(4)
    log.error("Reference %s", reference, exc_info=fault)
    if fault and is_of_the_database(fault):
        return not_just_now(request, reference)
    return HttpResponse(render_to_string("errors/500.html", {"reference": reference}), status=500)


def _behind(fault: BaseException | None) -> Iterator[BaseException]:
    """A fault and what it came of."""
    while fault is not None:
        yield fault
        fault = fault.__cause__ or fault.__context__


def not_just_now(request: HttpRequest, reference: str) -> HttpResponse:
    """The database is away or cannot write. Whether a form was saved is not known: its key lets it be sent again."""
    page = render_to_string("errors/503.html", {"reference": reference, "sent": request.method == "POST"})
    return HttpResponse(page, status=503, headers={"Retry-After": str(AGAIN_SECONDS)})


def is_of_the_database(fault: BaseException) -> bool:
    """Whether the same may go well later: no connection, no room, or a database that is only read at the moment."""
    read_only = getattr(fault.__cause__, "sqlstate", "") == READ_ONLY
    return isinstance(fault, OperationalError | InterfaceError) or read_only
