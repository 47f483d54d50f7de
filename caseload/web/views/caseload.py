"""Every open episode."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.reads import caseload
from caseload.reads.names import names
from caseload.web.clock import by_of, staff_of
from caseload.web.exports import is_export
from caseload.web.forms.filters import CaseloadFilters
from caseload.web.list_files import list_file
from caseload.web.paging import read_paging, with_changes
from caseload.web.rows import Teller, caseload_row
from caseload.web.tables import CaseloadTable

NAME = "caseload-name"


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    """The list as its address and the name kept in the session ask for it. A name never stands in an address."""
    if request.method == "POST" and not is_export(request):
        return _filter(request)
    if is_export(request):
        return list_file(request, "caseload", request.session.get(NAME, ""))
    by = by_of(request)
    known = names()
    filters = CaseloadFilters(request.GET.dict(), names=known, staff=staff_of(request))
    name = request.session.get(NAME, "")
    found = caseload.episodes(filters.asked(name), by.today, by)
    table = CaseloadTable(request.GET.dict(), by.today, known)
    paging = read_paging(table.asked, found.count())
    rows = caseload.rows(found, table.ordering(), paging.start, paging.stop, by.today)
    tell = Teller(by.today, known)
    table.fill((caseload_row(row, tell) for row in rows), paging)
    return render(request, "caseload/list.html", {"table": table, "filters": filters, "name": name, "today": by.today})


def _filter(request: HttpRequest) -> HttpResponse:
    """Keep the name that was typed, and go to the address of the other filters."""
    request.session[NAME] = request.POST.get("name", "").strip()[:80]
    chosen = {field: request.POST.get(field) or None for field in CaseloadFilters.field_order}
    kept = {field: request.GET.get(field) for field in ("sort", "per") if request.GET.get(field)}
    return redirect(reverse("caseload") + with_changes(kept, **chosen))
