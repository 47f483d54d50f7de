"""Metrics for whoever has the token of the settings; to anybody else there is nothing at this address."""

import secrets

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from prometheus_client import CONTENT_TYPE_LATEST

from caseload.web.clock import now


@login_not_required
def show(request: HttpRequest) -> HttpResponse:
    if not may_read(request.headers.get("Authorization", "")):
        return HttpResponse("There is nothing at this address.\n", status=404, content_type="text/plain")
    # Imported where it is used: only a process that is asked for metrics counts any.
    from caseload.web.metrics import exposed

    return HttpResponse(exposed(now()), content_type=CONTENT_TYPE_LATEST)


def may_read(sent: str) -> bool:
    """Whether the header carries the token; compared in a time that does not depend on how much of it is right."""
    wanted = settings.METRICS_TOKEN
    return bool(wanted) and secrets.compare_digest(sent.encode(), f"Bearer {wanted}".encode())
