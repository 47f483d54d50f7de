"""Whose turn it is."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from caseload.reads import overdue
from caseload.reads.away import away_on
from caseload.reads.names import names
from caseload.web.clock import by_of, staff_of
from caseload.web.exports import is_export
from caseload.web.forms.filters import OverdueFilters
from caseload.web.list_files import list_file
from caseload.web.paging import read_paging
from caseload.web.rows import Teller, overdue_row
from caseload.web.tables import OverdueTable
from caseload.web.tally import tally


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    if is_export(request):
        return list_file(request, "overdue")
    by = by_of(request)
    known = names()
    absent = away_on(by.today)
    filters = OverdueFilters(request.GET.dict(), names=known, staff=staff_of(request), absent=absent)
    counts = overdue.counts(by.today, absent, by)
    asked = filters.asked()
    found = overdue.standings(asked, by.today, absent, by)
    table = OverdueTable(request.GET.dict(), by.today, known)
    paging = read_paging(table.asked, counts.of(asked))
    rows = overdue.rows(found, table.ordering(), paging.start, paging.stop, by.today, absent)
    tell = Teller(by.today, known, absent)
    table.fill((overdue_row(row, tell) for row in rows), paging)
    context = {"table": table, "filters": filters, "tally": tally(counts, known, filters.every), "today": by.today}
    return render(request, "overdue/list.html", context)
