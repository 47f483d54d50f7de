"""The report of the waits, to be printed: of what is asked, of a month with all its clocks, and of a month as filed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from caseload.access import Act
from caseload.waits.filed import Filed
from caseload.web.views.answering import allow
from caseload.web.views.filings import filing_at


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    allow(request, Act.WAITS_READ)
    return render(request, "waits/report.html", {})


@require_safe
def as_filed(request: HttpRequest, code: str) -> HttpResponse:
    """A month as it was filed, from what was filed alone."""
    allow(request, Act.WAITS_READ)
    filing = filing_at(code)
    return render(request, "waits/report.html", {"filing": filing, "filed": Filed.from_json(filing.body)})
