"""Finding a patient. What was typed is posted, so that no name stands in an address, a log or a history."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods

from caseload.actions.looks import listed, looked_at
from caseload.errors import Refusal
from caseload.reads.reach import sees_all
from caseload.reads.search import find
from caseload.web.clock import by_of
from caseload.web.exports import as_file, is_export
from caseload.web.rows import Teller, match_row, other_row
from caseload.web.values import FOUND, found_values

LONGEST = 80


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    text = request.POST.get("text", "").strip()[:LONGEST]
    if not text:
        return render(request, "search/page.html", {"text": ""})
    by = by_of(request)
    try:
        found = find(text, by.today, by)
    except Refusal as refusal:
        return render(request, "search/page.html", {"text": text, "refused": refusal.message})
    looked_at((other.id for other in found.others), by=by, route="search")
    if is_export(request):
        return as_file(request, "search", FOUND, found_values(found.matches))
    listed(by=by, route="search", rows=len(found.matches))
    tell = Teller(by.today)
    rows = [match_row(match, tell) for match in found.matches] + [other_row(other) for other in found.others]
    context = {"text": text, "found": found, "rows": mark_safe("".join(rows)), "own_only": not sees_all(by.staff)}
    return render(request, "search/page.html", context)
