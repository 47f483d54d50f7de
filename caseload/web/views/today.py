"""The page a therapist begins the day on."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from caseload.reads.today import Part, day_of
from caseload.web.clock import by_of, staff_of
from caseload.web.day_rows import section_rows
from caseload.web.exports import as_file, is_export
from caseload.web.values import DAY, day_values


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    day = day_of(staff_of(request), by.today)
    if is_export(request):
        return as_file(request, "today", DAY, day_values(day, by.today))
    context = {
        "today": by.today,
        "sections": section_rows(day, by.today),
        "due": any(section.entries for section in day.sections),
        "seeing": day.count(Part.TODAY),
        "outcomes": day.count(Part.OUTCOME),
        "late": day.count(Part.LATE),
        "cut": day.cut,
    }
    return render(request, "today/page.html", context)
