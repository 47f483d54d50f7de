"""The patients behind a figure of the waits, by name; who looked is recorded."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from caseload.actions.looks import listed, looked_at
from caseload.reads import wait_patients, waits
from caseload.web.clock import by_of
from caseload.web.exports import is_export
from caseload.web.forms.wait_patients import wait_patients_form
from caseload.web.list_files import list_file
from caseload.web.paging import read_paging
from caseload.web.rows import Teller
from caseload.web.wait_rows import WaitTable, wait_row

NAME = "wait-patients"


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    if is_export(request):
        return list_file(request, NAME)
    form = wait_patients_form(request.GET.dict(), staff=by.person, today=by.today)
    asked = form.asked()
    found = waits.behind(asked, form.figure, by.today, form.member)
    table = WaitTable(request.GET.dict(), by.today, form.names)
    paging = read_paging(table.asked, found.count())
    rows = wait_patients.rows(found, table.ordering(), paging.start, paging.stop)
    tell, clock, last = Teller(by.today, form.names), asked.clock, asked.period.last
    table.fill((wait_row(row, clock, last, tell) for row in rows), paging)
    looked_at((row.patient_id for row in rows), by=by, route=NAME)
    listed(by=by, route=NAME, rows=len(rows))
    return render(request, "waits/patients.html", {"table": table, "filters": form, "today": by.today})
