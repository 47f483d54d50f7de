"""The page a therapist begins the day on."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from caseload.reads.today import Part, day_of
from caseload.web.clock import by_of, staff_of
from caseload.web.day_rows import section_rows


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    day = day_of(staff_of(request), by.today)
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
