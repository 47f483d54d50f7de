"""Months of waits: filing one, and what was filed beside what is known now."""

from collections.abc import Iterable
from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from caseload.access import Act
from caseload.actions.act import Repeated
from caseload.actions.filing import file_month
from caseload.actions.looks import looked_at
from caseload.errors import Refusal
from caseload.models import Filing
from caseload.reads import filings
from caseload.reads.rules import titles_of
from caseload.waits.restated import Line
from caseload.waits.terms import Clock
from caseload.web.clock import by_of
from caseload.web.views.answering import FORM_METHODS, allow, route_of


@require_http_methods(FORM_METHODS)
def months(request: HttpRequest) -> HttpResponse:
    """The months of a year: filed, to be filed, not over yet."""
    if request.method == "POST":
        return _file(request)
    by = by_of(request)
    years = filings.years(by.today)
    asked = {str(year): year for year in years}
    year = asked.get(request.GET.get("year", ""), by.today.year)
    context = {"years": years, "year": year, "months": filings.months(year, by.today)}
    return render(request, "waits/filed_months.html", context)


def _file(request: HttpRequest) -> HttpResponse:
    by = allow(request, Act.MONTH_FILE)
    try:
        made = file_month(_month(request.POST.get("month", "")), by=by).code
    except Repeated as repeated:
        made = repeated.outcome
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("filings")
    messages.success(request, "Filed. These figures stay as they are; what is entered later shows beside them.")
    return redirect("filing", made)


def _month(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError:
        raise Refusal("month-unreadable", "No month was named. Open the page again.") from None


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    """As filed, as now known, and what moved it; who is named is recorded."""
    by, filing = by_of(request), filing_at(code)
    found = filings.restatement(filing)
    movers = filings.movers(found.moved, filing.filed_at)
    looked_at((mover.patient.pk for mover in movers if mover.patient), by=by, route=route_of(request))
    clocks = [(clock, _shown(found.lines[clock])) for clock in Clock if clock in found.lines]
    context = {
        "filing": filing,
        "found": found,
        "rules": list(map(titles_of, found.rules)),
        "clocks": [(clock, lines, any(line.moved for line in lines)) for clock, lines in clocks],
        "movers": movers,
    }
    return render(request, "waits/filed_month.html", context)


def _shown(lines: Iterable[Line]) -> list[Line]:
    """What can be said, of all; of a site only what moved."""
    said = (line for line in lines if line.filed is not None or line.now is not None)
    return [line for line in said if line.site is None or line.moved]


def filing_at(code: str) -> Filing:
    return get_object_or_404(Filing.objects.select_related("filed_by"), code=code)
