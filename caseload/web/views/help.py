"""How the planner is used, on one page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from caseload.timetable.terms import Headline, Status
from caseload.web import dayline, marks
from caseload.web.samples import SAMPLE


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    words = [marks.marked(word) for word in (*Status, *Headline)]
    return render(request, "help/page.html", {"line": dayline.large(SAMPLE, {}), "words": words})
